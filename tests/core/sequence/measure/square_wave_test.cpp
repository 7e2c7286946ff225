// SPDX-License-Identifier: Apache-2.0
#include <cmath>

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

namespace {

// 1 kHz between 1 V and 2 V behind a probe whose factor and compensation are off.
std::function<double(double)> square(double height_v, double overshoot = 0) {
  return [=](double t) {
    const double phase = t * 1000 + 0.75 - std::floor(t * 1000 + 0.75);
    const bool high = phase < 0.5;
    const double since_s = (high ? phase : phase - 0.5) / 1000;
    return 1 + (high ? height_v : 0) + (high ? 1 : -1) * overshoot * height_v * std::exp(-since_s / 100e-6);
  };
}

const std::string average =
    "  - average: rf\n    each: 5 ms long\n    count: 4\n    trigger: rising through 1.5 V\n    within: 30 s\n"
    "    name it: square\n";

sequence::RunResult run(test::FakeBench& bench, const std::string& steps, const std::string& limits,
                        const std::function<double(double)>& volts) {
  bench.prepare_scope = [volts](test::FakeScope& scope) { scope.volts = volts; };
  bench.file.instruments[0].calibrator = bench::Calibrator{1.0, 0.01};
  bench.file.instruments[0].clock_accuracy = 25e-6;
  return bench.run(test::around(average + steps, limits));
}

}  // namespace

TEST_CASE("probe factor: the set factor times the calibrator's height over the height found", "[sequence]") {
  test::FakeBench bench;
  const auto result = run(bench, "  - measure: probe factor of square\n    name it: factor\n    must meet: ten\n",
                          "  ten: 9.5 to 10.5\n", square(0.8));
  REQUIRE_FALSE(result.error);
  const auto& factor = result.readings.at(0);
  CHECK(factor.value == Approx(12.5).epsilon(0.01));
  CHECK(factor.judgement == Judgement::fail);
  // Gain 1.5 % and calibrator 1 %, both rectangular (GUM 4.3.7); two levels of 0.8 V in still steps of 2.6 V / 255.
  const double steps = std::sqrt(2.0 / 12) * (2.6 / 255) / 0.8;
  CHECK(factor.interval.standard_uncertainty / factor.value ==
        Approx(std::sqrt((0.015 * 0.015 + 0.01 * 0.01) / 3 + steps * steps)).epsilon(0.02));
}

TEST_CASE("probe factor: is left out where the bench file does not state the calibrator", "[sequence]") {
  test::FakeBench bench;
  bench.prepare_scope = [](test::FakeScope& scope) { scope.volts = square(1); };
  const auto result = bench.run(test::around(average + "  - measure: probe factor of square\n    name it: factor\n"));
  CHECK_FALSE(result.error);
  CHECK(result.readings.empty());
  const auto notes = bench.journal.of<event::Noted>();
  CHECK(std::any_of(notes.begin(), notes.end(), [](const auto& n) {
    return n.text == "left out: the bench file does not say how high the square wave of scope is";
  }));
}

TEST_CASE("top flatness: shows a probe that is not compensated, with the sign", "[sequence]") {
  const std::string steps = "  - measure: top flatness of square\n    name it: flatness\n    must meet: flat\n";
  for (const double overshoot : {0.15, -0.15}) {
    test::FakeBench bench;
    const auto result = run(bench, steps, "  flat: -2 % to 2 %\n", square(0.7, overshoot));
    REQUIRE_FALSE(result.error);
    CHECK(result.readings.at(0).value == Approx(0.9 * overshoot).epsilon(0.05));
    CHECK(result.judgement == Judgement::fail);
  }
  test::FakeBench bench;
  CHECK(run(bench, steps, "  flat: -2 % to 2 %\n", square(0.7)).judgement == Judgement::pass);
}

TEST_CASE("top flatness: says nothing of a wave that reaches beyond the screen", "[sequence]") {
  test::FakeBench bench;
  const auto result =
      run(bench, "  - measure: top flatness of square\n    name it: flatness\n", "  flat: -2 % to 2 %\n", square(7));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::wrong_wiring);
  CHECK(result.readings.empty());
}

TEST_CASE("frequency: of an averaged square wave, with the clock's accuracy", "[sequence]") {
  test::FakeBench bench;
  const auto result =
      run(bench, "  - measure: frequency of square\n    name it: f\n", "  flat: -2 % to 2 %\n", square(0.8));
  REQUIRE_FALSE(result.error);
  const auto& f = result.readings.at(0);
  CHECK(f.value == Approx(1000).epsilon(20e-6));
  CHECK(f.interval.standard_uncertainty > 1000 * 25e-6 / std::sqrt(3.0));
}

TEST_CASE("frequency: of a counter's signal, with its time base", "[sequence]") {
  test::FakeBench bench;
  bench.file = test::wide_bench_file();
  bench.outputs.frequency_hz = 999.5;
  const auto result =
      bench.run(test::around_outputs("  - measure: frequency of edges\n    within: 5 s\n    name it: f\n"));
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.at(0).value == Approx(999.5));
  CHECK(result.readings.at(0).unit == "Hz");
  CHECK(result.readings.at(0).interval.standard_uncertainty == Approx(999.5e-6 / std::sqrt(3.0)).epsilon(1e-6));
}

TEST_CASE("frequency: of a function generator, as it was set, with its clock", "[sequence]") {
  test::FakeBench bench;
  bench.file = test::wide_bench_file();
  const auto result =
      bench.run(test::around_outputs("  - measure: frequency of tone\n    within: 5 s\n    name it: f\n"));
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.at(0).value == 1000);
  CHECK(result.readings.at(0).notes == std::vector<std::string>{"what it was set to and read back, not measured"});
  // 1 ppm of its clock, and what a frequency that is read back may be off: 1 ppm and 1 mHz (GUM 4.3.7).
  CHECK(result.readings.at(0).interval.standard_uncertainty ==
        Approx(std::hypot(1e-3, 2e-3) / std::sqrt(3.0)).epsilon(1e-6));
}
