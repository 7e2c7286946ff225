// SPDX-License-Identifier: Apache-2.0
// `<disc>` in a text stands for a value that a row or the caller of a part fills in, before the text is read.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "core/yaml/node.hpp"

namespace eyelevel::sequence {

using FillIns = std::map<std::string, std::string>;

// A copy in which `<NAME>` is replaced wherever `values` knows NAME, in values of keys and items of lists.
yaml::Node filled_in(const yaml::Node& node, const FillIns& values);

// The names in `<NAME>`, in order: NAME is letters, digits, - and _.
std::vector<std::string> placeholders_in(std::string_view text);

// Of a step: each `<NAME>` that nothing fills in, where something (`known`) is filled in at all. Lists of steps are
// looked at step by step.
void report_not_filled_in(const yaml::Node& step, const std::vector<std::string>& known, yaml::Mistakes& mistakes);

}  // namespace eyelevel::sequence
