// SPDX-License-Identifier: Apache-2.0
#pragma once

#include <string>

namespace eyelevel::program {

// A password from the terminal, unseen and typed twice; where standard input is none, its first line.
// Throws base::Error(bad_input) when there is none, or the two differ.
std::string ask_password(const std::string& user);

}  // namespace eyelevel::program
