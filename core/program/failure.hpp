// SPDX-License-Identifier: Apache-2.0
// How a program ends that could not do what it was asked.
#pragma once

#include <exception>

namespace eyelevel::program {

// Tells the failure on standard error; what the program is to exit with.
int told_failure(const char* program, const std::exception_ptr& failure);

}  // namespace eyelevel::program
