// SPDX-License-Identifier: Apache-2.0
// JSON Schema (draft-07, which editors' YAML servers understand) from a table of keys. Quantities are strings there;
// their pattern only demands what an editor can see early, the parser says the rest.
#pragma once

#include <string>

#include "core/yaml/key_table.hpp"

namespace eyelevel::yaml {

// Indented by two spaces, keys in the order of the table, a newline at the end: the same bytes for the same table.
std::string json_schema(const KeyTable& table, const std::string& title);

}  // namespace eyelevel::yaml
