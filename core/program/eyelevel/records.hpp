// SPDX-License-Identifier: Apache-2.0
// The parts of `eyelevel records`, each with its subcommands, and what they print alike.
#pragma once

#include <string>

#include "core/program/eyelevel/command.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::program {

void add_unit_books(CLI::App* records, Chosen& chosen);    // take-in, hand-back, unit
void add_pickup_books(CLI::App* records, Chosen& chosen);  // pickup
void add_disc_books(CLI::App* records, Chosen& chosen);    // disc
void add_corrections(CLI::App* records, Chosen& chosen);   // correct
void add_keeping(CLI::App* records, Chosen& chosen);       // thin-out, archive, restore, backup

// "2030-01-07-3  2030-01-07 08:00 UTC  pickup-level  ...": one line of the table, under run_heading().
std::string run_heading();
std::string run_line(const record::RunSummary& run);

}  // namespace eyelevel::program
