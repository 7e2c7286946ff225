// SPDX-License-Identifier: Apache-2.0
// `eyelevel explain SEQUENCE`: the sequence in plain sentences, how long it takes, what will be asked.
#include <fmt/format.h>

#include <boost/json.hpp>
#include <memory>

#include "core/program/eyelevel/command.hpp"
#include "core/program/files.hpp"
#include "core/program/plugins.hpp"
#include "core/sequence/language/explain.hpp"
#include "core/service/bench_view.hpp"

namespace eyelevel::program {
namespace {

struct Options {
  std::string sequence;
  std::vector<std::string> set;
  std::vector<std::string> plugins;
  bool as_json = false;
};

void print_list(const char* heading, const std::vector<sequence::Sentence>& list) {
  if (list.empty()) return;
  fmt::print("\n{}\n", heading);
  for (const sequence::Sentence& s : list)
    fmt::print("{:>4} {:{}}{}\n", s.number.empty() ? "" : s.number + ".", "", 2 * s.depth, s.text);
}

std::string asked_line(const bench::Question& question) {
  if (question.kind == bench::AnswerKind::done) return question.text;
  return fmt::format("{} (answer {})", question.text, bench::what_to_answer(question));
}

void print_page(const sequence::Sequence& sequence, const sequence::Explanation& explained) {
  fmt::print("{}: {}\n", sequence.name, sequence.about);
  for (const std::string& caution : sequence.cautions) fmt::print("  caution: {}\n", caution);
  fmt::print("\nIt takes {}.\n", in_words(explained.whole));
  if (explained.laser_lit.longest_s > 0)
    fmt::print("The laser of the player is lit for {}, as far as the prompts tell.\n", in_words(explained.laser_lit));
  for (const sequence::RoleNeed& role : sequence.roles)
    fmt::print("{} {} ({}).\n", role.required ? "It needs" : "It uses, if it is there,", role.role, role.kind);
  for (const sequence::Asked& asked : sequence.asked)
    fmt::print("Asked before it begins: {}, {}{}{}.\n", asked.name, asked.about,
               asked.usual.empty() ? "" : "; usual " + asked.usual,
               asked.allowed_text.empty() ? "" : "; allowed " + asked.allowed_text);
  print_list("At the beginning", explained.opening);
  print_list("Then", explained.steps);
  print_list("At the end, whatever happened", explained.closing);
  if (explained.asked.empty()) return;
  fmt::print("\nThe operator will be asked\n");
  for (const bench::Question& question : explained.asked) fmt::print("   - {}\n", asked_line(question));
}

int explain(const Options& options) {
  const auto equipment = equip_and_tell(options.plugins);
  const auto sequence = load_sequence(options.sequence, equipment.language, options.set);
  const auto explained = sequence::explain(sequence, equipment.language);
  if (options.as_json)
    fmt::print("{}\n", boost::json::serialize(service::explanation_json(sequence, explained)));
  else
    print_page(sequence, explained);
  return all_met;
}

}  // namespace

void add_explain(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "explain", "A sequence in plain sentences: how long, what will be asked",
                             "eyelevel explain sequences/ready/pickup-level.yaml");
  command->add_option("sequence", options->sequence, "the sequence")->required();
  command->add_option("--set", options->set, "NAME=VALUE for what the sequence asks at its start; may be repeated");
  add_plugins_option(*command, options->plugins);
  command->add_flag("--json", options->as_json, "print JSON");
  command->callback([options, &chosen] { chosen = [options] { return explain(*options); }; });
}

}  // namespace eyelevel::program
