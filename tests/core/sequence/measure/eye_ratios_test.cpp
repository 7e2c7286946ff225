// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string steps = test::capture_step +
                          "  - measure: i3 over i11 of pressed\n    name it: ratio\n"
                          "  - measure: asymmetry of pressed\n    name it: asymmetry\n";

}  // namespace

TEST_CASE("eye ratios: I3/I11 and asymmetry of a symmetric eye, free of the gain", "[sequence]") {
  test::FakeBench bench;
  bench.prepare_scope = [](test::FakeScope& scope) { scope.gain = 1.05; };
  const auto result = bench.run(test::around(steps));
  REQUIRE_FALSE(result.error);
  const auto& truth = test::short_eye(500e-6, 1.25, 0, 1).truth;
  // 1 kOhm and 12 pF leave 1/sqrt(1 + (0.72 MHz / 13.3 MHz)^2) = 0.9985 of 3T, which is put back.
  CHECK(result.readings.at(0).value == Approx(truth.i3_v / truth.i11_v / 0.9985).epsilon(0.01));
  CHECK(result.readings.at(0).unit == "1");
  CHECK(result.readings.at(1).value == Approx(0).margin(0.02));
  for (const auto& c : result.readings[0].contributions) CHECK(c.source.find("gain") == std::string::npos);
}

TEST_CASE("eye ratios: a pad that falls with light turns the sign of the asymmetry", "[sequence]") {
  test::FakeBench up, down;
  down.model->pad.light_raises_voltage = false;
  const auto a = up.run(test::around(steps)), b = down.run(test::around(steps));
  REQUIRE_FALSE(a.error);
  REQUIRE_FALSE(b.error);
  CHECK(a.readings.at(1).value == Approx(-b.readings.at(1).value));
}

TEST_CASE("eye ratios: after an equaliser or a.c. coupled they are left out, with the reason", "[sequence]") {
  test::FakeBench bench;
  std::string text = test::around(steps);
  std::string why;
  SECTION("equaliser") {
    bench.model->pad.point = bench::PadPoint::after_equaliser;
    why = "left out: the pad of this model lies after an equaliser, where the ratios of ECMA-130 do not apply";
  }
  SECTION("a.c.") {
    text.replace(text.find("coupling: dc"), 12, "coupling: ac");
    why = "left out: 'rf' is a.c. coupled, where the ratios of ECMA-130 do not apply";
  }
  const auto result = bench.run(text);
  CHECK_FALSE(result.error);
  CHECK(result.readings.empty());
  CHECK(bench.journal.of<event::Noted>().back().text == why);
}
