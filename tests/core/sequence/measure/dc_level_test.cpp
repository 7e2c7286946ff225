// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("d.c. level: a multimeter is read over the time asked for, and its ripple averages out", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double t) { return 2.9 + 0.02 * std::sin(6.28 * 4 * t); };
  const auto result =
      bench.run(test::around("  - measure: d.c. level of dc\n    over: 3 s\n    within: 20 s\n    name it: playing\n"));
  REQUIRE_FALSE(result.error);
  const auto& r = result.readings.at(0);
  CHECK(r.value == Approx(2.9 * 1.0001).margin(0.002));  // 1 kOhm into 10 MOhm; a tenth of the ripple
  CHECK(r.until_s - r.from_s == Approx(3).margin(0.1));
  CHECK(r.count > 50);
  CHECK(r.of == "dc");
  CHECK(r.measure == "d.c. level");
  CHECK(r.inputs.empty());
}

TEST_CASE("d.c. level: reading error and range error stay apart, the range being the one that was taken",
          "[sequence]") {
  test::FakeBench bench;
  const auto result =
      bench.run(test::around("  - measure: d.c. level of dc\n    within: 20 s\n    name it: playing\n"));
  REQUIRE_FALSE(result.error);
  const auto& budget = result.readings.at(0).contributions;
  const auto effect = [&](const std::string& source) {
    for (const auto& c : budget)
      if (c.source == source) return c.effect;
    return 0.0;
  };
  CHECK(effect("gain of meter") == Approx(2.5 * 1.0001 * 0.0005 / std::sqrt(3.0)));
  CHECK(effect("offset of meter") == Approx(10 * 0.0001 / std::sqrt(3.0)));  // the fake takes 10 V for the 5 V asked
}

TEST_CASE("d.c. level: the offset of one meter cancels in a rise", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double t) { return t < 9.5 ? 2.516 : 2.931; };
  const std::string measure = "  - measure: d.c. level of dc\n    within: 20 s\n    name it: ";
  const auto result =
      bench.run(test::around(measure + "dark\n  - prompt: go on\n    within: 1 min\n" + measure +
                             "playing\n  - compare: playing with dark\n    as: difference\n    name it: rise\n"));
  REQUIRE_FALSE(result.error);
  const auto& rise = result.readings.at(2);
  CHECK(rise.value == Approx(0.415 * 1.0001).epsilon(1e-6));
  // What is left: 0.05 % of the rise and the loading.
  CHECK(rise.interval.standard_uncertainty == Approx(0.415 * 0.0005 / std::sqrt(3.0)).epsilon(0.01));
}

TEST_CASE("d.c. level: of captures it is their mean; a.c. coupled there is none", "[sequence]") {
  test::FakeBench bench;
  const std::string steps = test::capture_step + "  - measure: d.c. level of pressed\n    name it: mean\n";
  SECTION("d.c.") {
    const auto result = bench.run(test::around(steps));
    REQUIRE_FALSE(result.error);
    CHECK(result.readings.at(0).value ==
          Approx(1.6).margin(0.06));  // the middle of the fake eye; its content decides the rest
    double offset = 0;
    for (const auto& c : result.readings[0].contributions)
      if (c.source == "offset of scope channel 1") offset = c.effect;
    CHECK(offset == Approx(0.010 / std::sqrt(3.0)));
  }
  SECTION("a.c.") {
    std::string text = test::around(steps);
    text.replace(text.find("coupling: dc"), 12, "coupling: ac");
    const auto result = bench.run(text);
    REQUIRE(result.error);
    CHECK(result.error->code == base::ErrorCode::wrong_wiring);
    CHECK(result.error->message == "'rf' is a.c. coupled, so that its d.c. level is lost");
  }
}

TEST_CASE("d.c. level: the ripple of a turn moves neither the mean nor its uncertainty", "[sequence]") {
  // 10 mV of ripple at 4.3 Hz read over 8 s: taken as free observations the readings would state
  // 10 mV / sqrt(2) / sqrt(n) = 0.4 mV or, by their likeness, more. The fake meter has no noise.
  test::FakeBench bench;
  bench.meter_v = [](double t) { return 2.9 + 0.010 * std::sin(2 * 3.14159265 * 4.3 * t); };
  const auto result =
      bench.run(test::around("  - measure: d.c. level of dc\n    within: 20 s\n    name it: playing\n"));
  REQUIRE_FALSE(result.error);
  for (const auto& c : result.readings.at(0).contributions) {
    if (c.type != 'A') continue;
    CHECK(c.effect < 0.00001);
    CHECK(c.degrees_of_freedom > 16);
  }
  CHECK(result.readings.at(0).value == Approx(2.9 * 1.0001).margin(0.00001));
}

TEST_CASE("d.c. level: readings taken while the player skipped are not kept, and the reading says how many",
          "[sequence]") {
  test::FakeBench bench;
  // A skip of 0.4 s in which the mean rises by half a volt.
  bench.meter_v = [](double t) {
    return 2.9 + 0.010 * std::sin(2 * 3.14159265 * 4.3 * t) + (t > 3 && t < 3.4 ? 0.5 : 0.0);
  };
  const auto result =
      bench.run(test::around("  - measure: d.c. level of dc\n    within: 20 s\n    name it: playing\n"));
  REQUIRE_FALSE(result.error);
  const auto& r = result.readings.at(0);
  CHECK(r.value == Approx(2.9 * 1.0001).margin(0.0005));
  REQUIRE(r.tried);
  // Readings take 25 ms, with a pause of half that on average.
  CHECK(*r.tried - r.count == Approx(0.4 / 0.0375).margin(3));
  CHECK(r.notes == std::vector<std::string>{fmt::format(
                       "{} of {} readings kept; the others jumped, as when the player skips", r.count, *r.tried)});
}

TEST_CASE("d.c. level: of an oscilloscope's signal itself, with gain, divider and offset", "[sequence]") {
  test::FakeBench bench;
  bench.unit.has_eye = [](double) { return false; };
  bench.unit.middle_v = 1.5;
  const auto result = bench.run(test::around("  - measure: d.c. level of rf\n    within: 20 s\n    name it: shown\n"));
  REQUIRE_FALSE(result.error);
  const auto& level = result.readings.at(0);
  CHECK(level.value == Approx(1.5).epsilon(0.002));
  // Gain 1.5 %, divider 1 %, offset 10 mV: rectangular (GUM 4.3.7).
  CHECK(level.interval.standard_uncertainty ==
        Approx(std::sqrt((0.0225 * 0.0225 + 0.015 * 0.015 + 0.01 * 0.01) / 3)).epsilon(0.05));
}
