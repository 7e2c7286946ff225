// SPDX-License-Identifier: Apache-2.0
#include "core/report/compare.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "core/record/journal/json_text.hpp"

using namespace eyelevel;
using metrology::Reading;
using metrology::Shape;
using record::RunRecord;
using report::compare;

namespace {

// 1 % of gain of the oscilloscope, 5 mV of noise of the captures: standard uncertainties.
Reading level(double value) {
  Reading r;
  r.name = "level_pressed";
  r.value = value;
  r.unit = "V";
  r.contributions = {{"gain of scope channel 1", 'B', Shape::normal, 0.01 * value},
                     {"divider of the probe on scope channel 1", 'B', Shape::normal, 0.002},
                     {"captures of pressed", 'A', Shape::normal, 0.005}};
  r.interval = metrology::combine(r.contributions);
  return r;
}

RunRecord run(const std::string& id, double value) {
  RunRecord r;
  r.summary.id = id;
  r.summary.model = "LF-2";
  r.summary.sequence = "pickup-level";
  r.summary.bench = "bench 1";
  r.instruments = {{"scope", "oscilloscope", "", "Lanternfield,S-1,12,1.0", "2030-06-30"}};
  r.settings = {{{}, "scope", "probe of rf", "x10", "x10"}};
  r.readings = {level(value)};
  return r;
}

double u_of(const report::Comparison& comparison) {
  return comparison.pairs.at(0).difference->interval.standard_uncertainty;
}

std::vector<std::string> whats(const report::Comparison& comparison) {
  std::vector<std::string> list;
  for (const auto& one : comparison.unlike) list.push_back(one.what);
  return list;
}

}  // namespace

// GUM 5.2.2: of two readings of one instrument the gain leaves only its share of the difference.
TEST_CASE("comparison: the gain of one instrument cancels in a difference, noise does not", "[report]") {
  const auto same = compare(run("1", 1.00), run("2", 1.20));
  CHECK(same.unlike.empty());
  CHECK(same.pairs.at(0).difference->value == Approx(0.20));
  CHECK(u_of(same) == Approx(std::hypot(0.01 * 0.20, 0.005, 0.005)));
  CHECK(same.pairs.at(0).is_beyond());
  CHECK_FALSE(compare(run("1", 1.00), run("2", 1.01)).pairs.at(0).is_beyond());
}

TEST_CASE("comparison: gains of two instruments do not cancel, nor of one that was calibrated in between", "[report]") {
  const double apart =
      std::sqrt(std::pow(0.01 * 1.00, 2) + std::pow(0.01 * 1.20, 2) + 2 * 0.002 * 0.002 + 2 * 0.005 * 0.005);
  auto other = run("2", 1.20);
  other.instruments[0].identity = "Lanternfield,S-1,13,1.0";
  CHECK(u_of(compare(run("1", 1.00), other)) == Approx(apart));
  CHECK(whats(compare(run("1", 1.00), other)) == std::vector<std::string>{"instrument scope"});
  other = run("2", 1.20);
  other.instruments[0].calibration_due = "2031-06-30";
  CHECK(u_of(compare(run("1", 1.00), other)) == Approx(apart));
  other = run("2", 1.20);
  other.instruments[0].identity.clear();
  auto first = run("1", 1.00);
  first.instruments[0].identity.clear();
  CHECK(u_of(compare(first, other)) == Approx(apart));
}

TEST_CASE("comparison: the probe is another one on another bench", "[report]") {
  auto other = run("2", 1.20);
  other.summary.bench = "bench 2";
  CHECK(u_of(compare(run("1", 1.00), other)) ==
        Approx(std::sqrt(0.002 * 0.002 + 2 * 0.002 * 0.002 + 2 * 0.005 * 0.005)));  // 0.01 x 0.20 of the gain is left
}

TEST_CASE("comparison: a reading without a budget has its uncertainty as one line of its own", "[report]") {
  auto a = run("1", 1.00), b = run("2", 1.20);
  for (auto* one : {&a, &b}) {
    one->readings[0].contributions.clear();
    one->readings[0].interval = {0.03, 0.06, 0.95, 40};
  }
  CHECK(u_of(compare(a, b)) == Approx(0.03 * std::sqrt(2.0)));
}

TEST_CASE("comparison: another model or sequence forbids it, settings, disc and text of the sequence are told",
          "[report]") {
  auto a = run("1", 1.00), b = run("2", 1.20);
  b.settings[0].read_back = "x1";
  b.begun.given = {{"disc", "recordable"}};
  a.begun.given = {{"disc", "pressed"}};
  b.begun.source = "sequence: pickup-level\nlimits: {}\n";
  auto told = compare(a, b);
  CHECK_FALSE(told.is_forbidden());
  CHECK(whats(told) == std::vector<std::string>{"text of the sequence", "disc", "probe of rf of scope"});
  CHECK(report::unlike_text(told.unlike[2]) == "probe of rf of scope: x10 | x1");
  b.summary.model = "LF-5";
  told = compare(a, b);
  CHECK(told.is_forbidden());
  CHECK(report::unlike_text(told.unlike[0]) == "model: LF-2 | LF-5");
  b = run("2", 1.2);
  b.summary.sequence = "drift";
  CHECK(compare(a, b).is_forbidden());
}

TEST_CASE("comparison: what only one run has, or has in another unit, has no difference", "[report]") {
  auto a = run("1", 1.00), b = run("2", 1.20);
  b.readings[0].unit = "1";
  a.readings.push_back(level(0.4));
  a.readings[1].name = "rise";
  const auto told = compare(a, b);
  REQUIRE(told.pairs.size() == 2);
  CHECK_FALSE(told.pairs[0].difference);
  CHECK_FALSE(told.pairs[1].b);
  CHECK(report::comparison_json(told).at("readings").at(1).at("difference").is_null());
}

TEST_CASE("comparison: readings are taken as they stand now, the newest of a name", "[report]") {
  auto a = run("1", 1.00), b = run("2", 1.20);
  b.readings.insert(b.readings.begin(), level(9.0));
  a.corrections = {{1, {}, "anna", "misread", {"level_pressed", 1.10, true, "", ""}}};
  CHECK(compare(a, b).pairs.at(0).difference->value == Approx(0.10));
}
