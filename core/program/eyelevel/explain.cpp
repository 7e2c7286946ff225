// SPDX-License-Identifier: Apache-2.0
// `eyelevel explain SEQUENCE`: the sequence in plain sentences, how long it takes, what will be asked.
#include <fmt/format.h>

#include <boost/json.hpp>
#include <memory>

#include "core/program/eyelevel/command.hpp"
#include "core/program/files.hpp"
#include "core/program/plugins.hpp"
#include "core/sequence/language/explain.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

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

json::array to_json(const std::vector<sequence::Sentence>& list) {
  json::array all;
  for (const sequence::Sentence& s : list)
    all.push_back(json::object{{"depth", s.depth},
                               {"number", s.number},
                               {"text", s.text},
                               {"part", s.place.part},
                               {"file", s.place.file},
                               {"line", s.place.line}});
  return all;
}

json::object to_json(const sequence::Duration& duration) {
  return {{"likely_s", duration.likely_s}, {"longest_s", duration.longest_s}};
}

json::array asked_at_start(const sequence::Sequence& sequence) {
  json::array all;
  for (const sequence::Asked& asked : sequence.asked)
    all.push_back(json::object{
        {"name", asked.name}, {"about", asked.about}, {"usual", asked.usual}, {"allowed", asked.allowed_text}});
  return all;
}

json::object to_json(const sequence::Sequence& sequence, const sequence::Explanation& explained) {
  json::array asked;
  for (const bench::Question& q : explained.asked)
    asked.push_back(json::object{{"text", q.text}, {"answer", what_to_answer(q)}, {"name", q.name}});
  return {{"sequence", sequence.name},
          {"about", sequence.about},
          {"cautions", json::array(sequence.cautions.begin(), sequence.cautions.end())},
          {"asked_at_start", asked_at_start(sequence)},
          {"duration", to_json(explained.whole)},
          {"laser_lit", to_json(explained.laser_lit)},
          {"opening", to_json(explained.opening)},
          {"steps", to_json(explained.steps)},
          {"closing", to_json(explained.closing)},
          {"asked", std::move(asked)}};
}

int explain(const Options& options) {
  const auto equipment = equip_and_tell(options.plugins);
  const auto sequence = load_sequence(options.sequence, equipment.language, options.set);
  const auto explained = sequence::explain(sequence, equipment.language);
  if (options.as_json)
    fmt::print("{}\n", json::serialize(to_json(sequence, explained)));
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
