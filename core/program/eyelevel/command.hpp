// SPDX-License-Identifier: Apache-2.0
// What main.cpp and the command files share. A command file adds its subcommand to the parser and, when it was chosen,
// sets `chosen` to a function that does the work and returns the exit status: 0 done and every limit met; 1 done, some
// limit failed or undecided; 2 the input is wrong, nothing was touched; 3 could not be finished. Errors may be thrown:
// main prints them.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>

namespace eyelevel::program {

enum Status : int { all_met = 0, not_met = 1, wrong_input = 2, not_finished = 3 };

using Chosen = std::function<int()>;

void add_run(CLI::App& app, Chosen& chosen);
void add_rehearse(CLI::App& app, Chosen& chosen);
void add_check(CLI::App& app, Chosen& chosen);
void add_explain(CLI::App& app, Chosen& chosen);
void add_analyse(CLI::App& app, Chosen& chosen);
void add_ask(CLI::App& app, Chosen& chosen);
void add_find(CLI::App& app, Chosen& chosen);
void add_interview(CLI::App& app, Chosen& chosen);
void add_sim(CLI::App& app, Chosen& chosen);
void add_records(CLI::App& app, Chosen& chosen);
void add_report(CLI::App& app, Chosen& chosen);
void add_workshop(CLI::App& app, Chosen& chosen);
void add_export(CLI::App& app, Chosen& chosen);
void add_import(CLI::App& app, Chosen& chosen);
void add_reference(CLI::App& app, Chosen& chosen);
void add_compare(CLI::App& app, Chosen& chosen);
void add_benches(CLI::App& app, Chosen& chosen);
void add_jobs(CLI::App& app, Chosen& chosen);
void add_plugins(CLI::App& app, Chosen& chosen);

// For a number that may not be negative: the parser would take -1 for the largest there is.
std::string not_negative(const std::string& text);

// Adds a subcommand with its sentence and an example that `--help` shows at its end.
CLI::App* subcommand(CLI::App& app, const char* name, const char* about, const char* example);

}  // namespace eyelevel::program
