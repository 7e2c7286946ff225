// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/measure/from_captures.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

sequence::CaptureSet set_of(std::vector<std::optional<double>> levels) {
  sequence::CaptureSet set;
  set.name = "pressed";
  for (const auto& level : levels) {
    sequence::KeptCapture capture;
    capture.analysis.level.peak_to_peak_v = level;
    set.kept.push_back(capture);
  }
  return set;
}

const auto level = [](const disc::Analysis& a) { return a.level.peak_to_peak_v; };

}  // namespace

TEST_CASE("from captures: those without the value are passed over, in order of time", "[sequence]") {
  CHECK(sequence::value_per_capture(set_of({1.0, std::nullopt, 2.0}), "a level", level) ==
        std::vector<double>{1.0, 2.0});
}

TEST_CASE("from captures: nothing is said from a single one", "[sequence]") {
  CHECK_THROWS_WITH(sequence::value_per_capture(set_of({1.0, std::nullopt}), "a level", level),
                    Catch::Contains("a level of 'pressed' can be had from 1 of 2 captures, 2 are the least"));
}

TEST_CASE("from captures: equal sources are one line of the completed budget", "[sequence]") {
  metrology::Reading reading;
  sequence::complete(reading, 1.5, {{.source = "gain", .effect = 0.01}, {.source = "gain", .effect = 0.02}});
  CHECK(reading.value == 1.5);
  REQUIRE(reading.contributions.size() == 1);
  CHECK(reading.interval.standard_uncertainty == Approx(0.03));
}

TEST_CASE("from captures: a reading of a series with too many rejected says so and cannot pass", "[sequence]") {
  test::FakeBench bench;
  // Every other capture out of focus: half are not kept, a third may be.
  int n = 0;
  bench.unit.blur_t = [&](double) { return ++n % 2 == 0 ? 1.25 : 1.7; };
  const auto result = bench.run(test::around(
      test::capture_step + "  - measure: eye level of pressed\n    name it: level_pressed\n    must meet: level\n"));
  REQUIRE_FALSE(result.error);
  CHECK(result.ended == "finished");
  CHECK(result.judgement == metrology::Judgement::undecided);
  CHECK(result.readings.at(0).judgement == metrology::Judgement::undecided);
  CHECK(result.readings[0].notes.at(1) == "too many captures were not kept: it cannot pass");
}
