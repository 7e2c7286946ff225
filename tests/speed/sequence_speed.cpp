// SPDX-License-Identifier: Apache-2.0
// Checking a ready sequence and one of 10 000 steps, against loading the same YAML alone; and eight simulated hours of
// the ready soak, against the time in which they must be over. Run from the top of the tree.
#include <fmt/format.h>

#include <fstream>
#include <sstream>

#include "core/sequence/language/check.hpp"
#include "core/sequence/verb/ready.hpp"
#include "core/yaml/load.hpp"
#include "tests/speed/speed.hpp"
#include "tests/support/ready_plan.hpp"

namespace eyelevel::speed {

namespace {

std::string text_of(const std::string& path) {
  std::ifstream file(path);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

// Measures, works out, judges and decides, with a name for each result.
std::string long_sequence(std::size_t steps) {
  const std::string ready = text_of("sequences/ready/pickup-level.yaml");
  std::string text = ready.substr(0, ready.find("closing:"));
  for (std::size_t i = 0; i < steps / 4; ++i)
    text += fmt::format(
        "  - measure: eye level of pressed\n    name it: a{0}\n  - work out: a{0} - level_pressed\n    name it: d{0}\n"
        "  - if: d{0} is below 1 V\n    then:\n      - note: low {0}\n",
        i);
  return text + ready.substr(ready.find("closing:"));
}

void checking(Table& table, const std::string& what, const std::string& text, double limit_s) {
  const sequence::Language language = sequence::ready_language();
  bool is_right = false;
  const Pair best = shortest_of_both(
      3,
      [&] {
        yaml::Document document = yaml::load_text("test.yaml", text);
        is_right = sequence::check(document, language).has_value();
      },
      [&] { yaml::load_text("test.yaml", text); });
  require(is_right, "checking");
  table.add({.what = what,
             .against = "the time in which it must answer",
             .figure = best.first_s / limit_s,
             .unit = "x of it",
             .target = 1,
             .tolerated = 3,
             .less_is_better = true,
             .detail = fmt::format("{:.3g} ms, {:.2g} times loading its YAML alone", best.first_s * 1e3,
                                   best.first_s / best.second_s)});
}

void soak(Table& table) {
  constexpr double limit_s = 5;
  const test::ReadyPlan ready("level-soak");
  std::vector<sim::UnitOutcome> units;
  const double took_s = shortest_s(1, [&] { units = ready.rehearse(ready.plan(7, 1)); });
  require(units.size() == 1 && units[0].wrong.empty() && units[0].result.ended == "finished", "soak");
  table.add({.what = "rehearsal of the ready soak, one core",
             .against = "the time in which it must be over",
             .figure = took_s / limit_s,
             .unit = "x of it",
             .target = 1,
             .tolerated = 3,
             .less_is_better = true,
             .detail = fmt::format("{:.3g} s for {:.3g} simulated hours", took_s, units[0].simulated_s / 3600)});
}

}  // namespace

void sequence_speed(Table& table) {
  checking(table, "checking the ready level sequence", text_of("sequences/ready/pickup-level.yaml"), 0.05);
  checking(table, "checking a sequence of 10 000 steps", long_sequence(10'000), 1);
  soak(table);
}

}  // namespace eyelevel::speed
