// SPDX-License-Identifier: Apache-2.0
#include <cmath>

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

sequence::RunResult measured(test::FakeBench& bench, const std::string& steps) {
  bench.file = test::wide_bench_file();
  return bench.run(test::around_outputs(steps));
}

const std::string both =
    "  - switch on: rail\n    within: 5 s\n"
    "  - measure: output voltage of rail\n    within: 5 s\n    name it: voltage\n"
    "  - measure: output current of rail\n    within: 5 s\n    name it: current\n";

}  // namespace

TEST_CASE("output reading: volts and amperes as the supply reads them, with the accuracy of the bench file",
          "[sequence]") {
  test::FakeBench bench;
  const auto result = measured(bench, both);
  REQUIRE_FALSE(result.error);
  REQUIRE(result.readings.size() == 2);
  const auto& voltage = result.readings[0];
  CHECK(voltage.value == Approx(5.001));
  CHECK(voltage.unit == "V");
  CHECK(voltage.count == 5);
  CHECK(voltage.notes.empty());
  // Half-widths of 0.1 % and 4 mV, of 0.5 % and 2 mA, rectangular (GUM 4.3.7); the readings do not scatter.
  CHECK(voltage.interval.standard_uncertainty == Approx(std::hypot(5.001e-3, 4e-3) / std::sqrt(3.0)));
  const auto& current = result.readings[1];
  CHECK(current.value == Approx(0.042));
  CHECK(current.unit == "A");
  CHECK(current.interval.standard_uncertainty == Approx(std::hypot(0.042 * 0.005, 2e-3) / std::sqrt(3.0)));
}

TEST_CASE("output reading: where the bench file states no offset, 0.1 % of the most is taken and told", "[sequence]") {
  test::FakeBench bench;
  bench.file = test::wide_bench_file();
  for (auto& entry : bench.file.instruments) entry.voltage_offset_v = entry.current_offset_a = std::nullopt;
  const auto result = bench.run(test::around_outputs(both));
  REQUIRE_FALSE(result.error);
  const auto& current = result.readings.at(1);
  const double most_a = bench.file.find("supply")->output(1)->most_a;
  CHECK(current.interval.standard_uncertainty == Approx(std::hypot(0.042 * 0.005, 1e-3 * most_a) / std::sqrt(3.0)));
  REQUIRE(current.notes.size() == 1);
  CHECK_THAT(current.notes[0], Catch::Contains("does not state the current offset of supply: taken as ± "));
}

TEST_CASE("output reading: what is read of an output that is off says so", "[sequence]") {
  test::FakeBench bench;
  const auto result = measured(bench, "  - measure: output voltage of rail\n    within: 5 s\n    name it: voltage\n");
  REQUIRE_FALSE(result.error);
  CHECK(result.readings.at(0).notes == std::vector<std::string>{"the output was off"});
}

TEST_CASE("output reading: a protection that has tripped ends the step and says what to look at", "[sequence]") {
  test::FakeBench bench;
  bench.outputs.supply_tripped = true;
  const auto result = measured(bench, both);
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::instrument_error);
  CHECK(result.error->message == "the protection of supply output 1 has switched it off");
  CHECK_FALSE(bench.outputs.supply_on);
}

TEST_CASE("output reading: a limit narrower than the supply's accuracy is refused before the run", "[sequence]") {
  std::string text = test::around_outputs(both + "    must meet: narrow\n");
  text.insert(text.find("opening:"), "limits:\n  narrow: 41.9 mA to 42.1 mA\n");
  const auto sequence = test::checked(text);
  yaml::Mistakes mistakes("test.yaml");
  sequence::check_on_bench(sequence, test::wide_bench_file(), mistakes);
  REQUIRE(mistakes.size() == 1);
  CHECK(mistakes.list()[0].message.find("no reading can be shown to meet 'narrow'") == 0);
}
