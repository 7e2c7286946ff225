// SPDX-License-Identifier: Apache-2.0
// `eyelevel`: arguments in, one command, its exit status out. Output for people and JSON go to stdout, messages to
// stderr.
#include <fmt/format.h>

#include <algorithm>
#include <csignal>
#include <cstdio>
#include <exception>
#include <optional>
#include <string>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/kept_memory.hpp"
#include "core/program/describe.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/failure.hpp"
#include "core/program/output.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::program {

CLI::App* subcommand(CLI::App& app, const char* name, const char* about, const char* example) {
  CLI::App* command = app.add_subcommand(name, about);
  command->footer(std::string("Example:\n  ") + example);
  return command;
}

std::string not_negative(const std::string& text) {
  return text.starts_with('-') ? "a whole number of 0 or more is expected, found " + text : std::string();
}

namespace {

// The first word is no command: CLI11 would only say that one is needed.
std::optional<std::string> unknown_command(const CLI::App& app, int argc, char** argv) {
  if (argc < 2 || argv[1][0] == '-') return std::nullopt;
  const std::string word = argv[1];
  std::vector<std::string> known;
  for (const CLI::App* command : app.get_subcommands({})) known.push_back(command->get_name());
  if (std::find(known.begin(), known.end(), word) != known.end()) return std::nullopt;
  if (const auto near = yaml::nearest(word, known))
    return fmt::format("unknown command '{}'; did you mean '{}'?", word, *near);
  return fmt::format("unknown command '{}'; known: {}", word, yaml::one_of(known));
}

// CLI11's own parse errors become our exit status 2; --help and --version stay 0.
int exit_of(const CLI::App& app, const CLI::ParseError& error) { return app.exit(error) == 0 ? all_met : wrong_input; }

int run_main(int argc, char** argv) {
  CLI::App app("eyelevel: unattended, repeatable measurement on the bench of a disc-player workshop", "eyelevel");
  app.set_version_flag("--version", "eyelevel " EYELEVEL_VERSION);
  app.require_subcommand(0, 1);
  app.footer(
      "Exit status: 0 done and every limit met; 1 done, some limit failed or undecided; 2 the input is wrong, nothing\n"
      "was touched; 3 could not be finished.");
  std::string described;
  add_describe(app, described);
  Chosen chosen;
  for (const auto add : {add_run, add_rehearse, add_check, add_explain, add_analyse, add_ask, add_find, add_interview,
                         add_sim, add_records, add_report, add_compare, add_workshop, add_export, add_import,
                         add_reference, add_benches, add_jobs, add_plugins})
    add(app, chosen);
  if (const auto why = unknown_command(app, argc, argv)) {
    put(stderr, fmt::format("eyelevel: {}\n", *why));
    return wrong_input;
  }
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return exit_of(app, error);
  }
  try {
    if (!described.empty()) {
      print_description(app, described);
      return all_met;
    }
    if (!chosen) throw base::Error(base::ErrorCode::bad_input, "no command is given", "eyelevel --help lists them");
    return chosen();
  } catch (...) {
    return told_failure("eyelevel", std::current_exception());
  }
}

}  // namespace
}  // namespace eyelevel::program

int main(int argc, char** argv) {
  std::signal(SIGPIPE, SIG_IGN);  // a peer or pager that went away is an error of that write, not the end of us
  std::signal(SIGXFSZ, SIG_IGN);  // nor is a file that may not grow further
  eyelevel::program::hold_standard_streams();
  eyelevel::base::keep_freed_memory();
  return eyelevel::program::status_after_output(eyelevel::program::run_main(argc, argv));
}
