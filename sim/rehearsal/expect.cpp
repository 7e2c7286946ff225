// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/expect.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "core/yaml/fields.hpp"
#include "sim/rehearsal/told.hpp"

namespace eyelevel::sim {
namespace {

using yaml::KeyTable;
using yaml::Type;

constexpr long long units_most = 10'000;
// What a JSON number holds exactly, so that every tool can repeat the seed.
constexpr long long seed_most = 1LL << 53U;

std::vector<std::string> error_codes() {
  std::vector<std::string> names;
  for (int code = 0; code <= static_cast<int>(base::ErrorCode::defect); ++code)
    names.emplace_back(base::name_of(static_cast<base::ErrorCode>(code)));
  return names;
}

KeyTable expectation_table() {
  return {"an expectation",
          "how units of one seed must end",
          {{.name = "name",
            .required = true,
            .type = Type::text,
            .help = "what is expected",
            .example = "a dead laser is told"},
           {.name = "seed", .required = true, .type = Type::count, .help = "as in --seed", .example = "7"},
           {.name = "units", .type = Type::count, .help = "how many (usual: 1)", .example = "5"},
           {.name = "answers",
            .type = Type::texts,
            .help = "what the operator answers, by the name of the answer",
            .example = "[ lens_is_clean=no ]"},
           {.name = "troubles",
            .type = Type::texts,
            .help = "which each unit has; eyelevel rehearse --list-troubles",
            .example = "[ laser dead ]"},
           {.name = "ended",
            .type = Type::word,
            .help = "whether the run came to its end",
            .example = "stopped",
            .choices = {"finished", "stopped"}},
           {.name = "judgement",
            .type = Type::word,
            .help = "of the whole run; none: nothing was judged, or it was stopped",
            .example = "pass",
            .choices = {"pass", "fail", "undecided", "none"}},
           {.name = "error",
            .type = Type::word,
            .help = "the code of the error that stops it",
            .example = "wait_ran_out",
            .choices = error_codes()},
           {.name = "told",
            .type = Type::text,
            .help = "words that stand in an error, a note, a failed judgement or a finding",
            .example = "no eye"}}};
}

// The whole table of what must be, so that a typing mistake does not expect nothing.
void check_content(const yaml::Node& node, const Expectation& expected, const Troubles& troubles,
                   yaml::Mistakes& mistakes) {
  if (expected.ended.empty() && expected.judgement.empty() && expected.error.empty() && expected.told.empty())
    mistakes.add(node.mark, fmt::format("'{}' expects nothing", expected.name),
                 "write `ended`, `judgement`, `error` or `told`");
  if (expected.units < 1 || expected.units > units_most)
    mistakes.add(node.find("units")->mark, fmt::format("'units': from 1 to {} may be rehearsed", units_most),
                 "write a number such as 5");
  const yaml::Node* names = node.find("troubles");
  for (const yaml::Node& name : names != nullptr ? names->items : std::vector<yaml::Node>())
    if (troubles.find(name.text) == nullptr) mistakes.add(name.mark, troubles.unknown(name.text));
}

Expectation expectation_of(const yaml::Node& node, yaml::Mistakes& mistakes) {
  const yaml::Fields fields(node);
  Expectation expected;
  expected.mark = node.mark;
  expected.name = fields.text("name").value_or("");
  const long long seed = fields.count("seed").value_or(1);
  if (seed > seed_most)
    mistakes.add(node.find("seed")->mark, fmt::format("'seed': {} is more than {}", seed, seed_most),
                 "write a smaller number");
  expected.seed = static_cast<std::uint64_t>(seed);
  expected.units = static_cast<int>(std::min(fields.count("units").value_or(1), units_most + 1));
  expected.troubles = fields.texts("troubles");
  const yaml::Node* answers = node.find("answers");
  for (const yaml::Node& item : answers != nullptr ? answers->items : std::vector<yaml::Node>()) {
    const std::size_t at = item.text.find('=');
    if (at == std::string::npos || at == 0)
      mistakes.add(item.mark, fmt::format("'{}' is no answer by name", item.text), "write it as in `lens_is_clean=no`");
    else
      expected.answers.insert_or_assign(item.text.substr(0, at), item.text.substr(at + 1));
  }
  expected.ended = fields.text("ended").value_or("");
  expected.judgement = fields.text("judgement").value_or("");
  expected.error = fields.text("error").value_or("");
  expected.told = fields.text("told").value_or("");
  return expected;
}

std::string judgement_of(const sequence::RunResult& result) {
  if (!result.judgement) return "none";
  using metrology::Judgement;
  return *result.judgement == Judgement::pass ? "pass" : *result.judgement == Judgement::fail ? "fail" : "undecided";
}

}  // namespace

std::string Expectations::sequence_path() const {
  return (std::filesystem::path(file).parent_path() / sequence).lexically_normal().string();
}

KeyTable expectations_table() {
  return {"expectations",
          "how a sequence must end with which troubles",
          {{.name = "expectations",
            .required = true,
            .type = Type::text,
            .help = "what they are about",
            .example = "The level job on good days and bad"},
           {.name = "sequence",
            .required = true,
            .type = Type::text,
            .help = "the file, from the folder of this one",
            .example = "../ready/pickup-level.yaml"},
           {.name = "set", .type = Type::texts, .help = "as in --set", .example = "[ target=1.20 V ]"},
           {.name = "cases",
            .required = true,
            .type = Type::groups,
            .help = "each with name, seed, and what must come of it",
            .example = "[ { name: a healthy unit, seed: 7, ended: finished } ]",
            .inside = std::make_shared<const KeyTable>(expectation_table())}}};
}

bool is_expectations(const yaml::Node& root) {
  return !root.entries.empty() && root.entries.front().key == "expectations";
}

ExpectationsRead read_expectations(yaml::Document document, const Troubles& troubles) {
  ExpectationsRead result{{}, std::move(document.mistakes)};
  Expectations& all = result.expectations;
  all.file = document.file;
  if (document.root.shape == yaml::Shape::nothing) return result;
  if (!yaml::check(document.root, expectations_table(), result.mistakes)) return result;
  const yaml::Fields fields(document.root);
  all.about = fields.text("expectations").value_or("");
  all.sequence = fields.text("sequence").value_or("");
  all.set = fields.texts("set");
  for (const yaml::Node& node : document.root.find("cases")->items) {
    Expectation expected = expectation_of(node, result.mistakes);
    check_content(node, expected, troubles, result.mistakes);
    if (std::any_of(all.list.begin(), all.list.end(), [&](const auto& e) { return e.name == expected.name; }))
      result.mistakes.add(node.find("name")->mark,
                          fmt::format("the name '{}' stands here a second time", expected.name),
                          "give each case a name of its own");
    all.list.push_back(std::move(expected));
  }
  if (all.list.empty())
    result.mistakes.add(document.root.find("cases")->mark, "there are no cases", "write at least one");
  return result;
}

std::string what_is_not_met(const Expectation& expected, const UnitOutcome& unit) {
  const auto& result = unit.result;
  if (!unit.wrong.empty()) return unit.wrong;
  if (unit.caught == Caught::wrong_pass) return "wrong pass";
  if (!expected.ended.empty() && result.ended != expected.ended)
    return fmt::format("{}{}", result.ended, result.error ? ": " + result.error->message : std::string());
  if (!expected.judgement.empty() && judgement_of(result) != expected.judgement)
    return fmt::format("judged {}, not {}", judgement_of(result), expected.judgement);
  const std::string code(result.error ? base::name_of(result.error->code) : "no error");
  if (!expected.error.empty() && code != expected.error) return fmt::format("{}, not {}", code, expected.error);
  if (!expected.told.empty() && !is_told(unit.told, {expected.told}))
    return fmt::format("\"{}\" was not told; told was: {}", expected.told, fmt::join(unit.told, " | "));
  return {};
}

}  // namespace eyelevel::sim
