// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/reopen.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string capture_steps = test::around(test::capture_step);

}  // namespace

TEST_CASE("reopen: another instrument that answers in the place of the lost one stops the run", "[sequence]") {
  const auto sequence = test::checked(capture_steps);
  test::FakeBench whole;
  whole.run(sequence);
  const auto& names = whole.calls.names;
  test::FakeBench bench;
  bench.calls.fail_with = base::ErrorCode::connection_lost;
  bench.calls.fail_at = static_cast<int>(std::find(names.begin(), names.end(), "capture") - names.begin()) + 1;
  bench.prepare_scope = [&bench](test::FakeScope& scope) {
    scope.identity = [&bench] {
      return bench.calls.made > bench.calls.fail_at ? "Fake,Other scope,SN 13,1.0" : "Fake,Scope,SN 12,1.0";
    };
  };
  const auto result = bench.run(sequence);
  CHECK(result.ended == "stopped");
  REQUIRE(result.error);
  CHECK(result.error->message == "after the connection was lost, another instrument answers");
  CHECK(result.error->received == "Fake,Other scope,SN 13,1.0");
  CHECK(result.error->expected == "Fake,Scope,SN 12,1.0");
}

TEST_CASE("reopen: every setting that was made is made again and recorded as it was read back", "[sequence]") {
  const auto sequence = test::checked(capture_steps);
  test::FakeBench whole;
  whole.run(sequence);
  const auto& names = whole.calls.names;
  test::FakeBench bench;
  bench.calls.fail_with = base::ErrorCode::connection_lost;
  bench.calls.fail_at = static_cast<int>(std::find(names.begin(), names.end(), "capture") - names.begin()) + 1;
  bench.run(sequence);
  CHECK(bench.journal.of<event::Set>().size() == 2 * whole.journal.of<event::Set>().size());
}
