// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string on = "  - switch on: rail\n    within: 5 s\n";
const std::string off = "  - switch off: rail\n    within: 5 s\n";

bool was_called(const test::FakeBench& bench, const std::string& name) {
  return std::find(bench.calls.names.begin(), bench.calls.names.end(), name) != bench.calls.names.end();
}

}  // namespace

TEST_CASE("switch on: an output is put on, told, and off again when the run has closed", "[sequence]") {
  test::FakeBench bench;
  bench.file = test::wide_bench_file();
  const auto result = bench.run(test::around_outputs(on + "  - switch on: tone\n    within: 5 s\n"));
  CHECK_FALSE(result.error);
  CHECK(was_called(bench, "switch on supply"));
  CHECK(was_called(bench, "switch on generator"));
  CHECK_FALSE(bench.outputs.supply_on);
  CHECK_FALSE(bench.outputs.generator_on);
  const auto set = bench.journal.of<event::Set>();
  CHECK(std::any_of(set.begin(), set.end(),
                    [](const auto& s) { return s.setting == "output 1" && s.read_back == "on"; }));
}

TEST_CASE("switch on: is refused where closing does not make the output safe", "[sequence]") {
  const std::string only_counter = "  - make safe: counter\n    within: 10 s\n";
  CHECK_THAT(test::mistakes_of(test::around_outputs(on, only_counter)),
             Catch::Contains("'rail' is switched on here, and `closing` does not make supply safe; write `make safe: "
                             "every instrument` into closing"));
  // Switched off on the way is not enough: what comes before it may break off.
  CHECK_THAT(test::mistakes_of(test::around_outputs(on + off, only_counter)),
             Catch::Contains("does not make supply safe"));
  CHECK(test::mistakes_of(test::around_outputs(on, "  - make safe: supply\n    within: 10 s\n")) == "");
  CHECK(test::mistakes_of(test::around_outputs(on, off)) == "");
}

TEST_CASE("switch on: only what was set up, and only what has an output", "[sequence]") {
  std::string text = test::around_outputs(on);
  const auto from = text.find("  - set up: rail");
  text.erase(from, text.find("  - set up: tone") - from);
  CHECK_THAT(test::mistakes_of(text), Catch::Contains("'rail' has not been set up at this point"));
  CHECK_THAT(test::mistakes_of(test::around_outputs("  - switch on: edges\n    within: 5 s\n")),
             Catch::Contains("which has no output"));
}

TEST_CASE("switch on: a lost connection while an output is on ends the run, nothing is switched on again",
          "[sequence]") {
  test::FakeBench bench;
  bench.file = test::wide_bench_file();
  const std::string steps = on + "  - measure: frequency of edges\n    within: 5 s\n";
  test::FakeBench whole;
  whole.file = test::wide_bench_file();
  whole.run(test::around_outputs(steps));
  const auto& names = whole.calls.names;
  bench.calls.fail_at = static_cast<int>(std::find(names.begin(), names.end(), "count counter") - names.begin()) + 1;
  bench.calls.fail_with = base::ErrorCode::connection_lost;
  const auto result = bench.run(test::around_outputs(steps));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::connection_lost);
  CHECK(std::count(bench.calls.names.begin(), bench.calls.names.end(), "switch on supply") == 1);
  CHECK_FALSE(bench.outputs.supply_on);
}
