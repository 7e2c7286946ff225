// SPDX-License-Identifier: Apache-2.0
// What stands above the steps of a sequence: instruments, signals, what is asked, limits.
#pragma once

#include <string>
#include <vector>

#include "core/sequence/language/verb.hpp"
#include "core/yaml/fields.hpp"

namespace eyelevel::sequence {

// Into scope.sequence; the fields were held against the sequence's table.
// `set`: values for what is asked at the start.
void read_head(const yaml::Fields& fields, const std::map<std::string, std::string>& set, Scope& scope,
               yaml::Mistakes& mistakes);

// A name may stand for one thing only: reports the second one. `of_part`: a name inside a part, which knows nothing of
// the limits of the sequences that use it.
bool is_new_name(const Scope& scope, const std::string& name, yaml::Mark at, yaml::Mistakes& mistakes,
                 bool of_part = false);

}  // namespace eyelevel::sequence
