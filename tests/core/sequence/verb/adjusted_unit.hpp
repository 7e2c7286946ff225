// SPDX-License-Identifier: Apache-2.0
// A unit on the fake bench whose operator does what `adjust` asks: switches it off and on, and turns its trimmer.
#pragma once

#include "core/bench/deed.hpp"
#include "core/sequence/language/explain.hpp"
#include "tests/core/sequence/harness.hpp"

namespace eyelevel::test {

inline std::string adjust_sequence(const std::string& turns = "at most 12") {
  std::string text = around(
      "  - adjust: laser trimmer\n    watch: eye level of rf\n    bring within: level\n    never above: 1.45 V\n    "
      "turns: " +
      turns + "\n    within: 60 min\n    name it: level_after\n");
  return text.insert(text.find("about: a test\n") + 14, "cautions:\n  - invisible laser radiation\n");
}

struct AdjustedUnit {
  FakeBench bench;
  double level_v;
  double per_deg = 0.01;  // clockwise raises; relative to 1.2 V
  double most_v = 10;     // what the laser's driver can give
  bool is_on = true;
  bool obeys_off = true;

  explicit AdjustedUnit(double level) : level_v(level) {
    bench.model->trimmer = bench::Trimmer{};
    bench.unit.has_eye = [this](double) { return is_on; };
    bench.unit.level_v = [this](double) { return std::min(most_v, level_v); };
    bench.person.does = [this](const std::string& text) {
      for (const bench::Deed& deed : bench::deeds_asked_for(text)) {
        if (deed.kind == bench::DeedKind::switch_off && obeys_off) is_on = false;
        if (deed.kind == bench::DeedKind::switch_on) is_on = true;
        if (deed.kind == bench::DeedKind::turn_trimmer) level_v = 1.2 / (1.2 / level_v - per_deg * deed.clockwise_deg);
      }
    };
  }
  sequence::RunResult run(const std::string& turns = "at most 12") { return bench.run(adjust_sequence(turns)); }
  std::vector<std::string> causes() const {
    std::vector<std::string> all;
    for (const auto& found : bench.journal.of<event::Found>()) all.push_back(found.cause);
    return all;
  }
};

}  // namespace eyelevel::test
