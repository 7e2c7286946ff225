// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("average: of readings is their mean, shared errors kept whole", "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double t) { return t < 9.5 ? 2.0 : 3.0; };
  const std::string measure = "  - measure: d.c. level of dc\n    within: 20 s\n    name it: ";
  const auto result = bench.run(test::around(measure + "a\n  - prompt: go on\n    within: 1 min\n" + measure +
                                                 "b\n  - average: [ a, b ]\n    name it: mean\n    must meet: middle\n",
                                             "  middle: 2.4 V to 2.6 V\n"));
  REQUIRE_FALSE(result.error);
  const auto& mean = result.readings.at(2);
  CHECK(mean.value == Approx(2.5 * 1.0001).epsilon(1e-9));
  CHECK(mean.judgement == metrology::Judgement::pass);
  double gain = 0;
  for (const auto& c : mean.contributions)
    if (c.source == "gain of meter") gain = c.effect;
  CHECK(gain == Approx(2.5 * 1.0001 * 0.0005 / std::sqrt(3.0)));  // does not average away
}

TEST_CASE("average: of a triggered signal takes as many acquisitions as asked and records each", "[sequence]") {
  test::FakeBench bench;
  const auto result =
      bench.run(test::around("  - average: rf\n    each: 20 us long\n    count: 12\n    trigger: rising through 1.6 "
                             "V\n    within: 30 s\n    name it: edge\n"));
  REQUIRE_FALSE(result.error);
  CHECK(bench.journal.of<event::Captured>().size() == 12);
  CHECK(bench.journal.of<event::Captured>().back().name == "edge");
  CHECK(result.readings.empty());
}

TEST_CASE("average: acquisitions that do not come in time say how many came", "[sequence]") {
  test::FakeBench bench;
  bench.calls.each = std::chrono::milliseconds(300);
  std::string text = test::around(
      "  - average: rf\n    each: 20 us long\n    count: 12\n    trigger: rising through 1.6 V\n    within: 1 s\n");
  const auto result = bench.run(text);
  REQUIRE(result.error);
  CHECK(result.error->message == "did not come about within 1 s; 3 of 12 triggered acquisitions came");
  CHECK(result.error->advice == "does the signal pass through the trigger level?");
}

TEST_CASE("average: what was made of a series that cannot pass cannot pass either", "[sequence]") {
  test::FakeBench bench;
  int n = 0;
  bench.unit.blur_t = [&](double) { return ++n % 2 == 0 ? 1.25 : 1.7; };
  const auto result =
      bench.run(test::around(test::capture_step + "  - measure: eye level of pressed\n    name it: a\n"
                                                  "  - measure: eye level of pressed\n    name it: b\n"
                                                  "  - average: [ a, b ]\n    name it: mean\n    must meet: level\n"));
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.at(2).judgement == metrology::Judgement::undecided);
}
