// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("prompt: it is announced before the answer is awaited, and the answer is recorded with who gave it",
          "[sequence]") {
  test::FakeBench bench;
  std::size_t committed_when_asked = 0;
  bench.person.does = [&](const std::string&) { committed_when_asked = bench.journal.committed; };
  CHECK_FALSE(bench.run(test::around("  - prompt: Insert the disc\n    within: 10 min\n")).error);
  const auto prompted = bench.journal.of<event::Prompted>();
  REQUIRE(prompted.size() == 1);
  CHECK(prompted[0].text == "Insert the disc");
  CHECK(prompted[0].within_s == 600);
  REQUIRE(committed_when_asked > 0);
  CHECK(std::holds_alternative<event::Prompted>(bench.journal.events[committed_when_asked - 1].body));
  const auto answered = bench.journal.of<event::Answered>();
  REQUIRE(answered.size() == 1);
  CHECK(answered[0].answer == "done");
  CHECK(answered[0].by == "the fake operator");
}

TEST_CASE("prompt: is not asked without the instrument that it is about", "[sequence]") {
  std::string text = test::around("  - prompt: Hook up the meter\n    only with: meter\n    within: 1 min\n");
  test::FakeBench bench;
  CHECK_FALSE(bench.run(text).error);
  CHECK(bench.person.asked.size() == 1);
  text.replace(text.find("  meter: { kind"), 2, "helps if there:\n  ");
  test::FakeBench without;
  without.has_meter = false;
  CHECK_FALSE(without.run(text).error);
  CHECK(without.person.asked.empty());
}
