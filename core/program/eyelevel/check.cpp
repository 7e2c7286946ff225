// SPDX-License-Identifier: Apache-2.0
// `eyelevel check FILE...`: every mistake as file:line:column, what is wrong, what would be right.
#include <fmt/format.h>

#include <boost/json.hpp>
#include <memory>

#include "core/program/eyelevel/command.hpp"
#include "core/program/files.hpp"
#include "core/sequence/verb/ready.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

struct Options {
  std::vector<std::string> files;
  bool as_json = false;
};

json::object to_json(const yaml::Mistake& m) {
  return {{"file", m.file},       {"line", m.line},
          {"column", m.column},   {"severity", yaml::name_of(m.severity)},
          {"message", m.message}, {"suggestion", m.suggestion}};
}

int check(const Options& options) {
  const auto language = sequence::ready_language();
  json::array list;
  bool wrong = false;
  for (const auto& file : options.files) {
    const auto mistakes = check_file(file, language);
    for (const auto& mistake : mistakes) {
      wrong = wrong || mistake.severity == yaml::Severity::error;
      if (options.as_json)
        list.push_back(to_json(mistake));
      else
        fmt::print("{}\n", yaml::print(mistake));
    }
    if (mistakes.empty() && !options.as_json) fmt::print("{}: nothing wrong\n", file);
  }
  if (options.as_json) fmt::print("{}\n", json::serialize(list));
  return wrong ? wrong_input : all_met;
}

}  // namespace

void add_check(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "check", "Every mistake in a sequence, bench file, model sheet or list of test discs",
                             "eyelevel check sequences/ready/pickup-level.yaml examples/bench.yaml");
  command->add_option("files", options->files, "YAML files")->required();
  command->add_flag("--json", options->as_json, "print JSON");
  command->callback([options, &chosen] { chosen = [options] { return check(*options); }; });
}

}  // namespace eyelevel::program
