// SPDX-License-Identifier: Apache-2.0
// A step as its file has it, in words for the record and for `explain`.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "core/yaml/key_table.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::sequence {

// "prompt: Insert the disc": its first key with its value, when that fits in a line.
std::string step_in_words(const yaml::Entry& first);

// What stands in it beside steps and the keys that mean the same in all steps, in the order of the file.
std::vector<std::pair<std::string, std::string>> said_by(const yaml::Node& step, const yaml::KeyTable& parameters);

}  // namespace eyelevel::sequence
