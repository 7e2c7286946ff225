// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/apply.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("apply: each kind of instrument gets what was stated for its signal", "[sequence]") {
  test::FakeBench bench;
  bench.file = test::wide_bench_file();
  CHECK_FALSE(bench.run(test::around_outputs("  - note: hello\n")).error);
  CHECK(bench.outputs.voltages == std::vector<double>{5});
  CHECK(bench.outputs.counter.level_v == 0.5);
  CHECK(bench.outputs.counter.gate_s == Approx(0.1));
  std::vector<std::string> roles;
  for (const auto& set : bench.journal.of<event::Set>()) roles.push_back(set.role);
  CHECK(roles == std::vector<std::string>{"supply", "generator", "counter"});
}
