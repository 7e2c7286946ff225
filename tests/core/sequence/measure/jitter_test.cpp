// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string steps = test::capture_step + "  - measure: jitter of pressed\n    name it: jitter_pressed\n";

double jitter_with(double noise_v) {
  test::FakeBench bench;
  bench.unit.noise_v = noise_v;
  const auto result = bench.run(test::around(steps));
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.at(0).unit == "s");
  CHECK(result.readings[0].interval.standard_uncertainty > 0);
  return result.readings[0].value;
}

}  // namespace

TEST_CASE("jitter: it grows with the noise of the signal and counts in seconds", "[sequence]") {
  const double quiet = jitter_with(0.006), noisy = jitter_with(0.03);
  CHECK(quiet > 1e-9);
  CHECK(noisy > 1.5 * quiet);
  CHECK(noisy < 100e-9);
}

TEST_CASE("jitter: what noise and sampling of the oscilloscope may have added stands in its budget", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(test::around(steps));
  REQUIRE_FALSE(result.error);
  const auto& budget = result.readings.at(0).contributions;
  CHECK(std::any_of(budget.begin(), budget.end(),
                    [](const auto& c) { return c.source == "noise and sampling of scope" && c.type == 'B'; }));
}
