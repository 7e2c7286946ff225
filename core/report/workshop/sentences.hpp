// SPDX-License-Identifier: Apache-2.0
// What a technician reads first of the workshop: whom to look at, since when, how far, how sure.
#pragma once

#include <string>
#include <vector>

#include "core/report/workshop/workshop.hpp"

namespace eyelevel::report::workshop {

// What is to be done something about, the gravest first; one sentence that says so where there is nothing.
std::vector<std::string> sentences(const Workshop& workshop);

}  // namespace eyelevel::report::workshop
