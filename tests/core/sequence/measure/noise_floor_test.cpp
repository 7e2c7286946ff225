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
