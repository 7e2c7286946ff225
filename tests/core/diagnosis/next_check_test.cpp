// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/next_check.hpp"

#include <array>
#include <catch2/catch.hpp>

#include "tests/core/diagnosis/judgement_table.hpp"

using namespace eyelevel;
using namespace eyelevel::diagnosis;
using test::judgement_table;

namespace {

const Situation all_possible{.has_power_loop = true,
                             .knows_series_resistor = true,
                             .has_trimmer = true,
                             .has_service_data = true,
                             .has_isolated_mains = true};

std::string_view next(const std::vector<Observation>& all, const Situation& situation) {
  const auto check = next_check(judgement_table(), all, situation);
  return check ? evidences()[check->evidence].id : "nothing";
}

}  // namespace

TEST_CASE("next check: entropy of even and of certain beliefs", "[diagnosis]") {
  CHECK(entropy_bits(std::array{0.25, 0.25, 0.25, 0.25}) == Approx(2));
  CHECK(entropy_bits(std::array{0.0, 1.0}) == 0);
}

TEST_CASE("next check: a dark and dirty unit has its lens cleaned first, then its mirror", "[diagnosis]") {
  std::vector<Observation> all{observe_told("level", "low"), observe_told("top", "low"),
                               observe_told("i3_over_i11", "low"), observe_told("discs", "weak"),
                               observe_told("laser_current", "ok")};
  CHECK(next(all, all_possible) == "clean_lens");
  all.push_back(observe_told("clean_lens", "no"));
  CHECK(next(all, all_possible) == "clean_mirror");
}

TEST_CASE("next check: one that is not safe is not asked for, however much it would tell", "[diagnosis]") {
  const std::vector<Observation> all{observe_told("ripple", "other"), observe_told("level", "high")};
  CHECK(next(all, all_possible) == "one_ground");
  Situation live = all_possible;
  live.has_isolated_mains = false;
  CHECK(next(all, live) != "one_ground");
}

TEST_CASE("next check: no check is asked for twice", "[diagnosis]") {
  std::vector<Observation> all;
  for (int i = 0; i < 16; ++i) {
    const auto check = next_check(judgement_table(), all, all_possible);
    if (!check) break;
    for (const Observation& o : all) CHECK(o.evidence != check->evidence);
    const Evidence& evidence = evidences()[check->evidence];
    all.push_back(observe_told(evidence.id, evidence.values.front().id));
  }
  CHECK(all.size() >= 5);
}

TEST_CASE("next check: one that could not be done is not asked for again, and the next best is", "[diagnosis]") {
  const std::vector<Observation> all{observe_told("level", "low"), observe_told("i3_over_i11", "low"),
                                     observe_told("discs", "weak"), observe_told("laser_current", "ok")};
  const auto first = next_check(judgement_table(), all, all_possible);
  REQUIRE(first);
  const auto second = next_check(judgement_table(), all, all_possible, std::array{first->evidence});
  REQUIRE(second);
  CHECK(second->evidence != first->evidence);
  CHECK(second->expected_gain_bits <= first->expected_gain_bits);
}

TEST_CASE("next check: where all is clear, nothing is asked for", "[diagnosis]") {
  std::vector<Observation> all;
  for (const Evidence& evidence : evidences())
    if (evidence.check) all.push_back(observe_told(evidence.id, evidence.values.front().id));
  CHECK(next(all, all_possible) == "nothing");
}
