// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string level_steps = test::capture_step + "  - measure: eye level of pressed\n    name it: level_pressed\n";

metrology::Reading level_of(test::FakeBench& bench) {
  const auto result = bench.run(test::around(level_steps));
  REQUIRE_FALSE(result.error);
  return result.readings.at(0);
}

double effect_of(const metrology::Reading& reading, const std::string& source) {
  for (const auto& c : reading.contributions)
    if (c.source == source) return c.effect;
  FAIL("no contribution '" << source << "'");
  return 0;
}

}  // namespace

TEST_CASE("eye level: the settled level within 0.1 % of the truth, loading of the pad taken off", "[sequence]") {
  test::FakeBench bench;
  const auto reading = level_of(bench);
  // Truth: 1.2 V at the probe tip; 1 kOhm into 10 MOhm takes 0.01 % away. Tolerance: a tenth of a per cent is asked
  // for.
  CHECK(reading.value == Approx(1.2 * 1.0001).epsilon(0.001));
  CHECK(reading.unit == "V");
  CHECK(reading.count == 16);
  CHECK(reading.measure == "eye level");
  CHECK(reading.of == "rf");
  CHECK(reading.inputs == std::vector<std::string>{"pressed"});
  const auto captures = bench.journal.of<event::Captured>();
  CHECK(reading.from_s == Approx(captures.front().waveform->start_s));
  CHECK(reading.until_s == Approx(captures.back().waveform->start_s + 500e-6));
}

TEST_CASE("eye level: the budget holds the classes of the bench file as rectangular shares of the value",
          "[sequence]") {
  test::FakeBench bench;
  const auto reading = level_of(bench);
  const double root3 = std::sqrt(3.0);  // GUM 4.3.7
  CHECK(effect_of(reading, "gain of scope channel 1") == Approx(reading.value * 0.015 / root3));
  CHECK(effect_of(reading, "divider of the probe on scope channel 1") == Approx(reading.value * 0.010 / root3));
  CHECK(effect_of(reading, "compensation of the probe on scope channel 1") == Approx(reading.value * 0.005 / root3));
  CHECK(effect_of(reading, "source resistance of the pad, seen by scope channel 1") ==
        Approx(reading.value * 200 / 10e6 / root3));
  CHECK(effect_of(reading, "eye level of the captures pressed") > 0);
  CHECK(reading.interval.standard_uncertainty ==
        Approx(reading.value * std::sqrt(0.015 * 0.015 + 0.01 * 0.01 + 0.005 * 0.005) / root3)
            .epsilon(0.02));  // the rest is small here
}

TEST_CASE("eye level: without a model sheet the reading says what was taken instead", "[sequence]") {
  test::FakeBench bench;
  bench.model.reset();
  const auto reading = level_of(bench);
  CHECK(std::find(reading.notes.begin(), reading.notes.end(),
                  "no model sheet: the pad's source resistance is taken as 0 to 2 kΩ") != reading.notes.end());
}

TEST_CASE("eye level: the stated interval holds the truth in about 95 of 100 instruments of the class", "[sequence]") {
  base::Random random(20, "instruments");
  int held = 0;
  constexpr int benches = 100;
  const auto sequence = test::checked(test::around(level_steps));
  for (int i = 0; i < benches; ++i) {
    test::FakeBench bench;
    bench.seed = static_cast<std::uint64_t>(i);
    const double level_v = random.uniform(0.8, 1.5);
    const double gain =
        (1 + random.uniform(-0.015, 0.015)) * (1 + random.uniform(-0.01, 0.01)) * (1 + random.uniform(-0.005, 0.005));
    bench.unit.level_v = [&](double t) { return level_v * (1 + 0.01 * std::sin(6.28 * 5.3 * t)); };
    bench.prepare_scope = [&](test::FakeScope& scope) { scope.gain = gain; };
    const auto result = bench.run(sequence);
    REQUIRE_FALSE(result.error);
    const auto& r = result.readings.at(0);
    held += std::abs(r.value - level_v * 1.0001) <= r.interval.expanded_uncertainty;
  }
  // Binomial of 100 at 0.95: three standard deviations are 6.5.
  CHECK(held >= 89);
}

TEST_CASE("eye level: two readings of one channel share its gain, so that it cancels in their ratio", "[sequence]") {
  test::FakeBench bench;
  std::string second = level_steps;
  for (const std::string& name :
       {std::string("name it: pressed"), std::string("name it: level_pressed"), std::string("eye level of pressed")})
    second.insert(second.find(name) + name.size(), "_2");
  const auto result = bench.run(test::around(
      level_steps + second + "  - compare: level_pressed_2 with level_pressed\n    as: ratio\n    name it: q\n"));
  REQUIRE_FALSE(result.error);
  const auto& ratio = result.readings.at(2);
  CHECK(ratio.value == Approx(1).epsilon(0.002));
  CHECK(ratio.interval.standard_uncertainty <
        0.1 * result.readings[0].interval.standard_uncertainty / result.readings[0].value);
}
