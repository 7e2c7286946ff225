// SPDX-License-Identifier: Apache-2.0
// The parts of `eyelevel workshop`, each with its subcommand.
#pragma once

#include <optional>
#include <string>

#include "core/program/eyelevel/command.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::program {

void add_workshop_gauge(CLI::App* workshop, Chosen& chosen);  // gauge
void add_workshop_unit(CLI::App* workshop, Chosen& chosen);   // unit, spares

}  // namespace eyelevel::program
