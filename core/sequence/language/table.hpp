// SPDX-License-Identifier: Apache-2.0
// The keys of a sequence file outside its steps, and the schema for editors, which is made from the same tables that
// the check uses.
#pragma once

#include <string>

#include "core/sequence/language/verb.hpp"
#include "core/yaml/key_table.hpp"

namespace eyelevel::sequence {

// The top of the file. Lists of steps are read by check.hpp with the tables of the verbs.
const yaml::KeyTable& sequence_table();

// sequences/schema/sequence.schema.json.
std::string sequence_schema(const Language& language);

}  // namespace eyelevel::sequence
