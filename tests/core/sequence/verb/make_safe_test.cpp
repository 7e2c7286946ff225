// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

int times(const test::FakeBench& bench, const std::string& name) {
  return static_cast<int>(std::count(bench.calls.names.begin(), bench.calls.names.end(), name));
}

}  // namespace

TEST_CASE("make safe: every instrument, each once", "[sequence]") {
  test::FakeBench bench;
  CHECK_FALSE(bench.run(test::around("  - note: hello\n")).error);
  CHECK(times(bench, "make scope safe") == 1);
  CHECK(times(bench, "make meter safe") == 1);
}

TEST_CASE("make safe: one by its role; the runner sees to the other", "[sequence]") {
  test::FakeBench bench;
  std::string text = test::around("  - note: hello\n");
  text.replace(text.find("every instrument"), 16, "meter");
  CHECK_FALSE(bench.run(text).error);
  CHECK(times(bench, "make scope safe") == 1);
  CHECK(times(bench, "make meter safe") == 1);
}

TEST_CASE("make safe: one that fails does not keep the others from being made safe, and is tried once more",
          "[sequence]") {
  test::FakeBench whole;
  const std::string text = test::around("  - note: hello\n");
  whole.run(text);
  const auto& names = whole.calls.names;
  test::FakeBench bench;
  bench.calls.fail_at = static_cast<int>(std::find(names.begin(), names.end(), "make scope safe") - names.begin()) + 1;
  const auto result = bench.run(text);
  REQUIRE(result.error);
  CHECK(result.ended == "stopped");
  CHECK(result.error->where == "test.yaml:24:5: step \"make safe: every instrument\"");
  CHECK(bench.meter_is_safe);
  CHECK(times(bench, "make scope safe") == 2);
}
