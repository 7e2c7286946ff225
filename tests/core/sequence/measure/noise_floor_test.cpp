// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("noise floor: the standard deviation of a quiet input, the converter's steps included", "[sequence]") {
  test::FakeBench bench;
  bench.unit.has_eye = [](double) { return false; };
  bench.unit.noise_v = 0.020;
  const auto result = bench.run(test::around("  - measure: noise floor of rf\n    within: 20 s\n    name it: noise\n"));
  REQUIRE_FALSE(result.error);
  const auto& noise = result.readings.at(0);
  // Steps of 2.6 V / 256 add q/sqrt(12) = 2.9 mV in squares.
  CHECK(noise.value == Approx(std::hypot(0.020, 0.0029)).epsilon(0.03));
  CHECK(noise.count == 16);
  CHECK(noise.interval.standard_uncertainty > 0.005 * noise.value);
}

TEST_CASE("noise share: the noise floor over what the bench file states", "[sequence]") {
  const std::string steps =
      "  - measure: noise share of rf\n    within: 20 s\n    name it: share\n    must meet: stated\n";
  test::FakeBench bench;
  bench.unit.has_eye = [](double) { return false; };
  bench.unit.noise_v = 0.020;
  bench.file.instruments[0].noise_v = 0.010;
  const auto result = bench.run(test::around(steps, "  stated: at most 100 %\n"));
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.at(0).value == Approx(std::hypot(0.020, 0.0029) / 0.010).epsilon(0.03));
  CHECK(result.readings.at(0).unit == "1");
  CHECK(result.judgement == metrology::Judgement::fail);
}

TEST_CASE("noise share: is left out where the bench file states no noise", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(test::around("  - measure: noise share of rf\n    within: 20 s\n    name it: share\n"));
  CHECK_FALSE(result.error);
  CHECK(result.readings.empty());
  const auto notes = bench.journal.of<event::Noted>();
  REQUIRE_FALSE(notes.empty());
  CHECK(notes[0].text == "left out: the bench file does not say how much noise scope has");
}
