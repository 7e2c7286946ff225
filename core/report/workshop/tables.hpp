// SPDX-License-Identifier: Apache-2.0
// The workshop's figures as tables for a terminal.
#pragma once

#include <string>
#include <vector>

#include "core/report/workshop/workshop.hpp"

namespace eyelevel::report::workshop {

// A heading, then its lines, an empty line between tables. What the table would have no line for is left out.
std::vector<std::string> tables(const Workshop& workshop);

}  // namespace eyelevel::report::workshop
