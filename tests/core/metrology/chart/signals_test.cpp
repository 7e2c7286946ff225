// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/chart/signals.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using metrology::chart::Rule;
using metrology::chart::Rules;
using metrology::chart::Signal;
using metrology::chart::signals;
using test::example;
using test::numbers;

namespace {

Rules none() {
  Rules rules;
  rules.beyond_three = rules.two_of_three_beyond_two = rules.four_of_five_beyond_one = rules.one_side = false;
  return rules;
}

// Points until the first signal, on average over runs of a normal series that lies `shift` off the centre.
double average_run(const Rules& rules, double shift, int runs) {
  base::Random random(17, "run rules");
  double total = 0;
  for (int i = 0; i < runs; ++i) {
    std::vector<double> points;
    for (std::size_t length = 64;; length *= 2) {
      while (points.size() < length) points.push_back(random.normal(shift, 1));
      const auto found = signals(points, 0, 1, rules);
      if (found.empty()) continue;
      total += static_cast<double>(found.front().last + 1);
      break;
    }
  }
  return total / runs;
}

}  // namespace

TEST_CASE("run rules: average runs are those of the exact chain", "[metrology]") {
  // examples.json "runs_rules_arl": exact Markov chain, shifts 0, 0.5, 1, 2 sigma. 4000 simulated runs each; run
  // lengths scatter about as much as they are long, so four standard errors are 6.3 %.
  const auto computed = example("runs_rules_arl").at("computed");
  Rules rules = none();
  rules.beyond_three = true;
  std::map<std::string, Rules> sets{{"1", rules}};
  rules.two_of_three_beyond_two = true;
  sets["1+2"] = rules;
  rules.four_of_five_beyond_one = rules.one_side = true;
  sets["1+2+3+4 (8 points)"] = rules;
  rules.two_of_three_beyond_two = rules.one_side = false;
  sets["1+3"] = rules;
  rules.four_of_five_beyond_one = false;
  rules.one_side = true;
  sets["1+4 (8 points)"] = rules;
  rules.run = 9;
  sets["1+4 (9 points)"] = rules;
  for (const auto& [name, set] : sets) {
    const auto truth = numbers(computed.at(name));
    const std::vector<double> shifts{0, 0.5, 1, 2};
    for (std::size_t i = 0; i < shifts.size(); ++i) {
      CAPTURE(name, shifts[i]);
      CHECK(average_run(set, shifts[i], 4000) == Approx(truth[i]).epsilon(4 / std::sqrt(4000.0)));
    }
  }
}

TEST_CASE("run rules: each says which it is, where and on which side", "[metrology]") {
  const auto only = [](const std::vector<double>& points, const Rules& rules) {
    const auto found = signals(points, 10, 2, rules);
    REQUIRE(found.size() == 1);
    return found[0];
  };
  Rules rules = none();
  rules.beyond_three = true;
  Signal got = only({10, 16, 3.9, 10}, rules);  // 16 lies on the limit, not beyond
  CHECK(got.rule == Rule::beyond_three);
  CHECK(got.last == 2);
  CHECK(describe(got) == "a point more than 3 sigma below the centre (point 3)");
  rules = none();
  rules.two_of_three_beyond_two = true;
  got = only({10, 14.1, 10, 14.1, 10, 10}, rules);
  CHECK(describe(got) == "2 of 3 points more than 2 sigma above the centre (points 2 to 4)");
  rules = none();
  rules.four_of_five_beyond_one = true;
  got = only({7, 7, 10, 7, 7, 10}, rules);
  CHECK(describe(got) == "4 of 5 points more than 1 sigma below the centre (points 1 to 5)");
  rules = none();
  rules.one_side = true;
  got = only({11, 11, 10, 11, 11, 11, 11, 11, 11, 11, 11}, rules);  // the third lies on the centre
  CHECK(describe(got) == "8 points in a row above the centre (points 4 to 11)");
}

TEST_CASE("run rules: those of patterns that are no shift", "[metrology]") {
  Rules rules = none();
  rules.rising_or_falling = true;
  auto found = signals(std::vector{5.0, 4.0, 3.0, 2.0, 1.0, 0.0, 0.0}, 0, 10, rules);
  REQUIRE(found.size() == 1);
  CHECK(describe(found[0]) == "6 points in a row, each below the one before (points 1 to 6)");
  rules = none();
  rules.alternating = true;
  std::vector<double> points;
  for (int i = 0; i < 14; ++i) points.push_back(i % 2 == 0 ? 0.5 : -0.5);
  found = signals(points, 0, 1, rules);
  REQUIRE(found.size() == 1);
  CHECK(found[0].side == 0);
  CHECK(describe(found[0]) == "14 points in a row that go up and down in turn (points 1 to 14)");
  rules = none();
  rules.within_one = true;
  CHECK(signals(points, 0, 1, rules).empty());
  points.push_back(0.1);
  found = signals(points, 0, 1, rules);
  REQUIRE(found.size() == 1);
  CHECK(found[0].rule == Rule::within_one);
  rules = none();
  rules.beyond_one_both_sides = true;
  found = signals(std::vector{2.0, -2.0, 2.0, 2.0, -2.0, -2.0, 2.0, 2.0}, 0, 1, rules);
  REQUIRE(found.size() == 1);
  CHECK(found[0].rule == Rule::beyond_one_both_sides);
  CHECK(signals(std::vector(8, 2.0), 0, 1, rules).empty());  // one side only: the other rules' business
}

TEST_CASE("run rules: switched off, nothing speaks", "[metrology]") {
  CHECK(signals(std::vector(20, 9.0), 0, 1, none()).empty());
  CHECK(signals({}, 0, 1).empty());
}

TEST_CASE("run rules: a chart without width is refused", "[metrology]") {
  CHECK_THROWS_WITH(signals(std::vector{1.0}, 0, 0), Catch::Contains("sigma 0"));
  CHECK_THROWS_WITH(signals(std::vector{1.0, std::nan("")}, 0, 1), Catch::Contains("point 1 of the chart is nan"));
}
