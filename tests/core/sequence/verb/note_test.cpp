// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("note: the remark stands in the record at its place", "[sequence]") {
  test::FakeBench bench;
  CHECK_FALSE(bench.run(test::around("  - note: The disc has a scratch\n")).error);
  REQUIRE(bench.journal.of<event::Noted>().size() == 1);
  const event::Noted noted = bench.journal.of<event::Noted>()[0];
  CHECK(noted.text == "The disc has a scratch");
  CHECK(noted.place.part == "steps");
  CHECK(noted.place.number == 1);
  CHECK(noted.place.verb == "note");
  CHECK(noted.place.line == 22);
}
