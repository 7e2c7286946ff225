// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("set up: every setting is recorded as asked and as read back", "[sequence]") {
  test::FakeBench bench;
  CHECK_FALSE(bench.run(test::around("  - note: hello\n")).error);
  const auto set = bench.journal.of<event::Set>();
  REQUIRE(set.size() == 2);
  CHECK(set[0].role == "scope");
  CHECK(set[0].setting == "probe factor");
  CHECK(set[1].role == "meter");
  CHECK(set[1].asked == "5 V");
  CHECK(set[1].read_back == "10 V");
}

TEST_CASE("set up: an instrument that does not confirm in time is named", "[sequence]") {
  test::FakeBench bench;
  bench.calls.each = std::chrono::seconds(7);
  const auto result = bench.run(test::around("  - note: hello\n"));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::time_out);
  CHECK(result.error->message == "did not come about within 5 s; scope has not confirmed its settings");
  CHECK(result.error->where == "test.yaml:12:5: step \"set up: rf\"");
}
