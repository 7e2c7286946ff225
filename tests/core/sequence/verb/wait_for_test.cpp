// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string wait = test::around("  - wait for: audio track\n    seen in: rf\n    within: 45 s\n");

// Long enough to see that it is not taken, short enough to render.
std::string shortly() {
  std::string text = wait;
  return text.replace(text.find("within: 45 s"), 12, "within: 4 s");
}

std::vector<std::string> seen(const test::MemoryJournal& journal) {
  std::vector<std::string> all;
  for (const auto& s : journal.of<event::Seen>()) all.push_back(s.what);
  return all;
}

}  // namespace

TEST_CASE("wait for: a playing audio track is recognised by its position running on", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(wait);
  REQUIRE_FALSE(result.error);
  // The fake disc began at 00:01 when the run did.
  CHECK(seen(bench.journal) ==
        std::vector<std::string>{"an audio track, track 2, 00:01", "playing an audio track, track 2, 00:02"});
  CHECK(result.closed_s < 3);
}

TEST_CASE("wait for: no eye at first, then the disc plays: it waits without giving up", "[sequence]") {
  test::FakeBench bench;
  bench.unit.has_eye = [](double t) { return t > 2; };
  const auto result = bench.run(wait);
  REQUIRE_FALSE(result.error);
  REQUIRE(seen(bench.journal).size() == 3);
  CHECK(seen(bench.journal).front() == "no eye");
  CHECK(seen(bench.journal).back().starts_with("playing an audio track, track 2"));
  CHECK(result.closed_s == Approx(4).margin(1));
}

TEST_CASE("wait for: without a disc the time runs out, saying what was seen last", "[sequence]") {
  test::FakeBench bench;
  bench.unit.has_eye = [](double) { return false; };
  const auto result = bench.run(wait);
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::wait_ran_out);
  CHECK(result.error->message == "did not come about within 45 s; last seen: no eye");
  CHECK(result.error->advice == "does the disc turn, is the probe on the pad, was an audio track started?");
  CHECK(result.error->where == "test.yaml:22:5: step \"wait for: audio track\"");
}

TEST_CASE("wait for: a data track is named and not taken", "[sequence]") {
  test::FakeBench bench;
  bench.unit.control = 4;
  const auto result = bench.run(shortly());
  REQUIRE(result.error);
  CHECK(result.error->message.find("data track") != std::string::npos);
}

TEST_CASE("wait for: a paused player is not taken for a playing one", "[sequence]") {
  test::FakeBench bench;
  bench.unit.is_paused = true;
  const auto result = bench.run(shortly());
  REQUIRE(result.error);
  CHECK(result.error->message.find("pause or search") != std::string::npos);
}

TEST_CASE("wait for: a memory too short for a Q block needs the operator's word, and the record says so",
          "[sequence]") {
  test::FakeBench bench;
  bench.prepare_scope = [](test::FakeScope& scope) { scope.points_max = 20'000; };
  SECTION("confirmed") {
    const auto result = bench.run(wait);
    REQUIRE_FALSE(result.error);
    CHECK(bench.person.asked == std::vector<std::string>{"Confirm that the player is playing an audio track"});
    CHECK(bench.journal.of<event::Prompted>().size() == 1);
    CHECK(bench.journal.of<event::Answered>().size() == 1);
    REQUIRE(bench.journal.of<event::Noted>().size() == 1);
    CHECK(bench.journal.of<event::Noted>()[0].text ==
          "the memory of scope (20 kSa) holds no block of the Q channel (533 kSa needed): a locked, settled eye in 5 "
          "captures "
          "and the operator's word stand for the audio track");
  }
  SECTION("denied until the time runs out") {
    bench.person.says = "no";
    const auto result = bench.run(wait);
    REQUIRE(result.error);
    CHECK(result.error->code == base::ErrorCode::wait_ran_out);
    CHECK(bench.person.asked.size() > 2);
  }
  SECTION("nobody there") {
    bench.person.is_there = false;
    const auto result = bench.run(wait);
    REQUIRE(result.error);
    CHECK(result.error->message ==
          "did not come about within 45 s; last seen: an eye; nobody has confirmed that an audio track is playing");
  }
}
