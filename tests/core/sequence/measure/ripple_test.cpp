// SPDX-License-Identifier: Apache-2.0
#include <cmath>
#include <numbers>

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

std::string steps() {
  std::string capture = test::capture_step;
  capture.replace(capture.find("16 settled"), 10, "64 settled");
  capture.replace(capture.find("at most 40"), 10, "at most 90");
  return capture +
         "  - measure: ripple with the turns of pressed\n    name it: with\n"
         "  - measure: ripple beside the turns of pressed\n    name it: beside\n";
}

// Of a level that moves as told.
std::pair<double, double> ripple(std::function<double(double)> level_v) {
  test::FakeBench bench;
  bench.unit.level_v = std::move(level_v);
  const auto result = bench.run(test::around(steps()));
  REQUIRE_FALSE(result.error);
  return {result.readings.at(0).value, result.readings.at(1).value};
}

}  // namespace

TEST_CASE("ripple: a swing with the turns is told with its peak to peak, and little beside it", "[sequence]") {
  const auto [with, beside] =
      ripple([](double t) { return 1.2 * (1 + 0.04 * std::sin(2 * std::numbers::pi * 5.1 * t)); });
  CHECK(with == Approx(0.08).margin(0.006));
  CHECK(beside < 0.02);
}

TEST_CASE("ripple: a level that scatters from capture to capture moves beside the turns", "[sequence]") {
  // Quick and never the same: no rate of turns explains it. Uniform within 5 % to both sides: rms 2.9 %, as a sine
  // 8.2 % from peak to peak.
  const auto [with, beside] = ripple([](double t) {
    const double x = std::sin(t * 12.9898) * 43758.5453;
    return 1.2 * (1 + 0.1 * (x - std::floor(x) - 0.5));
  });
  CHECK(with == 0);
  CHECK(beside == Approx(0.082).margin(0.015));
}

TEST_CASE("ripple: a steady level hardly moves at all", "[sequence]") {
  const auto [with, beside] = ripple([](double) { return 1.2; });
  CHECK(with < 0.01);
  CHECK(beside < 0.01);
}
