// SPDX-License-Identifier: Apache-2.0
// Man page and shell completion of a program, from the same table as its --help.
#pragma once

#include <CLI/CLI.hpp>

#include <string>

namespace eyelevel::program {

// For man(7). `day`: of the release, "2030-01-07".
std::string man_page(const CLI::App& app, const std::string& version, const std::string& day);

// For bash: commands, options, and file names where no option is begun.
std::string bash_completion(const CLI::App& app);

// Adds the hidden option --describe man|bash; when it was given, sets what is to be printed.
void add_describe(CLI::App& app, std::string& what);
// Prints it. Throws base::Error(bad_input) for another word.
void print_description(const CLI::App& app, const std::string& what);

}  // namespace eyelevel::program
