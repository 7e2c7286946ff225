// SPDX-License-Identifier: Apache-2.0
// What the caller of a part and the part itself agree on: which part may be used where, what is filled in, what is
// given back.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "core/sequence/language/placeholders.hpp"
#include "core/sequence/language/verb.hpp"
#include "core/yaml/load.hpp"

namespace eyelevel::sequence {

// Not by itself, and not too deep. `top`: the sequence; `around`: the parts around the one at `path`.
bool may_be_used(const yaml::Node& at, const std::string& path, const std::string& top,
                 const std::vector<std::string>& around, yaml::Mistakes& mistakes);

// What the caller gives for each name that the part has filled in; empty where it is missing, which is reported.
FillIns fill_ins(const PartCall& call, const yaml::Document& part, const std::vector<Asked>& asked,
                 yaml::Mistakes& mistakes);

// The names that the part says it gives; each must be given by one of its steps (`given`).
std::vector<std::string> results_of(const yaml::Document& part, const std::map<std::string, Given, std::less<>>& given,
                                    yaml::Mistakes& mistakes);

}  // namespace eyelevel::sequence
