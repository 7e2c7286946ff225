// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string steps = test::capture_step + "  - measure: top level of pressed\n    name it: top_pressed\n";

}  // namespace

TEST_CASE("top level: half a level above the middle of a symmetric eye", "[sequence]") {
  // 1 kOhm before 10 MOhm of probe: the unloaded pad lies 0.01 % higher.
  test::FakeBench bench;
  const auto result = bench.run(test::around(steps));
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.at(0).value == Approx(bench.unit.middle_v + 0.6).epsilon(0.005));
  CHECK(result.readings[0].unit == "V");
}

TEST_CASE("top level: of a pad that falls with light it is the lower one", "[sequence]") {
  test::FakeBench bench;
  bench.model->pad.light_raises_voltage = false;
  const auto result = bench.run(test::around(steps));
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.at(0).value == Approx(bench.unit.middle_v - 0.6).epsilon(0.01));
}

TEST_CASE("top level: an input that is a.c. coupled has none", "[sequence]") {
  test::FakeBench bench;
  std::string text = test::around(steps);
  text.replace(text.find("coupling: dc"), 12, "coupling: ac");
  const auto result = bench.run(text);
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::wrong_wiring);
}
