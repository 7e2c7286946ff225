// SPDX-License-Identifier: Apache-2.0
// Calendar dates in files: YYYY-MM-DD (ISO 8601 extended form), checked against the calendar.
#pragma once

#include <string_view>

namespace eyelevel::yaml {

bool is_date(std::string_view text);

}  // namespace eyelevel::yaml
