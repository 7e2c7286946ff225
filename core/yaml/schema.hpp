// SPDX-License-Identifier: Apache-2.0
// JSON Schema (draft-07, which editors' YAML servers understand) from a table of keys. Quantities are strings there;
// their pattern only demands what an editor can see early, the parser says the rest.
#pragma once

#include <string>
#include <vector>

#include "core/yaml/key_table.hpp"

namespace eyelevel::yaml {

// Indented by two spaces, keys in the order of the table, a newline at the end: the same bytes for the same table.
// `steps`: what each step of a list of Type::steps may be.
std::string json_schema(const KeyTable& table, const std::string& title, const std::vector<KeyTable>& steps = {});

}  // namespace eyelevel::yaml
