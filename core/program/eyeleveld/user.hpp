// SPDX-License-Identifier: Apache-2.0
// `eyeleveld user`: users of a daemon that does not run; one that does has them under Settings and in its API.
#pragma once

#include <CLI/CLI.hpp>

#include <functional>

namespace eyelevel::program {

// Sets `chosen` when one of its subcommands was given.
void add_user_command(CLI::App& app, std::function<int()>& chosen);

}  // namespace eyelevel::program
