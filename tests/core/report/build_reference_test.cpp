// SPDX-License-Identifier: Apache-2.0
#include "core/report/build_reference.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

#include "core/base/error.hpp"

using namespace eyelevel;
using record::RunRecord;
using report::build_reference;

namespace {

RunRecord run(int number, const std::string& serial, double value) {
  RunRecord r;
  r.summary.id = "2030-01-07-" + std::to_string(number);
  r.summary.serial = serial;
  r.summary.model = "LF-2";
  r.summary.sequence = "pickup-level";
  metrology::Reading reading;
  reading.name = "level_pressed";
  reading.unit = "V";
  reading.value = value;
  r.readings = {reading};
  return r;
}

const report::ReferenceWish wish{"LF-2", "level_pressed", "pressed", {}, {}};

bool says(const report::BuiltReference& built, const std::string& words) {
  return std::any_of(built.warnings.begin(), built.warnings.end(),
                     [&](const std::string& one) { return one.find(words) != std::string::npos; });
}

}  // namespace

// The exact two-sided factor for ten units, 95 % of all with 95 % confidence, is 3.393428, as in
// tests/core/metrology/population (NIST/SEMATECH e-Handbook 7.2.6.3 has an approximation of it).
TEST_CASE("building a reference: mean and spread of the units, each counted once", "[report]") {
  std::vector<RunRecord> runs;
  for (int i = 0; i < 10; ++i)
    runs.push_back(run(i + 1, "LF2-" + std::to_string(i), 1.20 + 0.01 * (i % 2 == 0 ? 1 : -1)));
  // Once more the first: its two readings have the mean of the first alone.
  runs.push_back(run(11, "LF2-0", 1.23));
  runs.push_back(run(12, "LF2-0", 1.19));
  const auto built = build_reference(runs, wish);
  REQUIRE(built.set.units.size() == 10);
  CHECK(built.set.units[0].runs == std::vector<std::string>{"2030-01-07-1", "2030-01-07-11", "2030-01-07-12"});
  CHECK(built.set.units[0].value == Approx(1.21));
  CHECK(built.set.mean == Approx(1.20));
  CHECK(built.set.sd == Approx(0.01 * std::sqrt(10.0 / 9)));
  CHECK(built.set.factor == Approx(3.393428).margin(1e-6));
  CHECK(built.set.limit.at_most == Approx(1.20 + *built.set.factor * *built.set.sd));
  CHECK(built.set.limit.at_least == Approx(1.20 - *built.set.factor * *built.set.sd));
  CHECK(built.set.unit == "V");
  CHECK(built.set.disc == "pressed");
  CHECK(built.set.setting == "pickup-level");
  CHECK(built.set.source == "units");
  CHECK(built.warnings.empty());
}

TEST_CASE("building a reference: two units are warned of, one gives no limits", "[report]") {
  const std::vector<RunRecord> runs{run(1, "LF2-1", 1.20), run(2, "LF2-2", 1.22)};
  CHECK(says(build_reference(runs, wish), "only two units"));
  CHECK_THROWS_WITH(build_reference(std::span(runs).first(1), wish),
                    Catch::Contains("one unit, LF2-1, gives no limits"));
  CHECK_THROWS_WITH(build_reference({}, wish), Catch::Contains("no run to build a reference from"));
}

TEST_CASE("building a reference: a unit that does not fit is named and stays in, until somebody leaves it out",
          "[report]") {
  std::vector<RunRecord> runs;
  for (int i = 0; i < 9; ++i) runs.push_back(run(i + 1, "LF2-" + std::to_string(i), 1.20 + 0.002 * i));
  runs.push_back(run(10, "LF2-9", 1.80));
  const auto built = build_reference(runs, wish);
  CHECK(built.set.doubtful == std::vector<std::string>{"LF2-9"});
  CHECK(built.set.units.size() == 10);
  auto without = wish;
  without.without = {"LF2-9"};
  const auto left = build_reference(runs, without);
  CHECK(left.set.units.size() == 9);
  CHECK(left.set.doubtful.empty());
}

TEST_CASE("building a reference: what does not belong together is refused with the run's name", "[report]") {
  const auto with = [](RunRecord second) { return std::vector<RunRecord>{run(1, "LF2-1", 1.20), std::move(second)}; };
  auto other = run(2, "LF5-2", 1.2);
  other.summary.model = "LF-5";
  CHECK_THROWS_WITH(build_reference(with(other), wish), Catch::Contains("run 2030-01-07-2 is of the model LF-5"));
  other = run(2, "LF2-2", 1.2);
  other.summary.sequence = "drift";
  CHECK_THROWS_WITH(build_reference(with(other), wish), Catch::Contains("sequence: pickup-level | drift"));
  CHECK_THROWS_WITH(build_reference(with(run(2, "", 1.2)), wish), Catch::Contains("run 2030-01-07-2 has no serial"));
  other = run(2, "LF2-2", 1.2);
  other.readings[0].unit = "1";
  CHECK_THROWS_WITH(build_reference(with(other), wish), Catch::Contains("in the runs before in V"));
  other.readings[0].unit = "";
  CHECK_THROWS_WITH(build_reference(with(other), wish), Catch::Contains("has no unit of measure"));
  other.readings.clear();
  CHECK_THROWS_WITH(build_reference(with(other), wish), Catch::Contains("no reading level_pressed that counts"));
}

TEST_CASE("building a reference: settings that differ are told, corrections are followed", "[report]") {
  auto first = run(1, "LF2-1", 1.20), second = run(2, "LF2-1", 1.22);
  first.settings = {{{}, "scope", "probe of rf", "x10", "x10"}};
  second.settings = {{{}, "scope", "probe of rf", "x1", "x1"}};
  second.corrections = {{1, {}, "anna", "wrong label", {"", {}, true, "LF2-2", ""}},
                        {2, {}, "anna", "misread", {"level_pressed", 1.24, true, "", ""}}};
  const auto built = build_reference(std::vector{first, second}, wish);
  CHECK(says(built, "probe of rf of scope: x10 | x1"));
  REQUIRE(built.set.units.size() == 2);
  CHECK(built.set.units[1].serial == "LF2-2");
  CHECK(built.set.units[1].value == 1.24);
}
