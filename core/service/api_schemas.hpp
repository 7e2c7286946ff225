// SPDX-License-Identifier: Apache-2.0
// api_schemas.json, compiled in (CMakeLists.txt): what bodies and answers of the API hold, as JSON Schema.
#pragma once

#include <string_view>

namespace eyelevel::service {

extern const std::string_view api_schemas;

}  // namespace eyelevel::service
