// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/run.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using metrology::Judgement;

namespace {

const std::string level_steps = "  - prompt: Insert the pressed test disc and start track 2\n    within: 10 min\n" +
                                test::capture_step +
                                "  - measure: eye level of pressed\n    name it: level_pressed\n    must meet: level\n";

template <class Body>
std::size_t count(const test::MemoryJournal& journal) {
  return journal.of<Body>().size();
}

}  // namespace

TEST_CASE("run: a level in the middle of its limit passes, and the record is complete", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(test::around(level_steps));
  CHECK_FALSE(result.error);
  CHECK(result.ended == "finished");
  CHECK(result.judgement == Judgement::pass);
  REQUIRE(result.readings.size() == 1);
  CHECK(result.readings[0].name == "level_pressed");
  CHECK(result.readings[0].limit->at_least == Approx(1.08));
  CHECK(result.instruments.size() == 2);
  CHECK(bench.scope_is_safe);
  CHECK(bench.meter_is_safe);
  CHECK(bench.scope_is_closed);
  CHECK(std::holds_alternative<event::Begun>(bench.journal.events.front().body));
  CHECK(std::holds_alternative<event::Closed>(bench.journal.events.back().body));
  CHECK(bench.journal.committed == bench.journal.events.size());
  CHECK(count<event::Judged>(bench.journal) == 1);
  CHECK(count<event::Captured>(bench.journal) >= 16);
}

TEST_CASE("run: listeners are told of nothing before it is committed, and of everything in the end", "[sequence]") {
  test::FakeBench bench;
  bench.run(test::around(level_steps));
  CHECK_FALSE(bench.listener.was_early);
  CHECK(bench.listener.told_events.size() == bench.journal.events.size());
  std::int64_t expected = 0;
  for (const event::Event& e : bench.journal.events) CHECK(e.number == ++expected);
}

TEST_CASE("run: judgement is fail when a reading fails, undecided inside the guard band, none without limits",
          "[sequence]") {
  test::FakeBench bench;
  SECTION("fail") {
    bench.unit.level_v = [](double) { return 1.45; };
    const auto result = bench.run(test::around(level_steps));
    CHECK(result.judgement == Judgement::fail);
    CHECK(result.ended == "finished");
  }
  SECTION("undecided: 1.31 V against 1.32 V with 2 % stated") {
    bench.unit.level_v = [](double) { return 1.31; };
    CHECK(bench.run(test::around(level_steps)).judgement == Judgement::undecided);
  }
  SECTION("none") { CHECK(bench.run(test::around("  - note: nothing to judge\n")).judgement == std::nullopt); }
}

TEST_CASE("run: whichever call of an instrument fails, closing runs, the record ends, the error names its place",
          "[sequence]") {
  const auto sequence = test::checked(test::around(level_steps));
  test::FakeBench whole;
  whole.run(sequence);
  const int calls = whole.calls.made;
  REQUIRE(calls > 20);
  for (int n = 1; n <= calls; ++n) {
    CAPTURE(n, whole.calls.names[static_cast<std::size_t>(n - 1)]);
    test::FakeBench bench;
    bench.calls.fail_at = n;
    const auto result = bench.run(sequence);
    CHECK(result.ended == "stopped");
    CHECK(result.judgement == std::nullopt);
    REQUIRE(result.error);
    CHECK(result.error->code == base::ErrorCode::time_out);
    CHECK(result.error->where.starts_with("test.yaml:"));
    // What stopped it is in the record too, also when no step had begun.
    const auto told = bench.journal.of<event::BrokenOff>();
    REQUIRE_FALSE(told.empty());
    CHECK(told.front().error.where == result.error->where);
    CHECK(told.front().error.message == result.error->message);
    CHECK(std::holds_alternative<event::Closed>(bench.journal.events.back().body));
    CHECK(bench.journal.committed == bench.journal.events.size());
    const auto& names = bench.calls.names;
    const bool scope_was_open = std::find(names.begin(), names.end(), "greet scope") != names.end();
    if (scope_was_open) CHECK(std::find(names.begin(), names.end(), "make scope safe") != names.end());
    if (scope_was_open) CHECK(bench.scope_is_closed);
  }
}

TEST_CASE("run: whichever event cannot be recorded, the run says so and the instruments are left safe", "[sequence]") {
  const auto sequence = test::checked(test::around(level_steps));
  test::FakeBench whole;
  whole.run(sequence);
  for (std::size_t n = 1; n <= whole.journal.events.size(); n += 3) {
    CAPTURE(n);
    test::FakeBench bench;
    bench.journal.fail_at = n;
    const auto result = bench.run(sequence);
    CHECK(result.ended == "stopped");
    CHECK(result.judgement == std::nullopt);
    REQUIRE(result.error);
    CHECK(result.error->code == base::ErrorCode::not_recording);
    if (bench.calls.made > 4) CHECK(bench.scope_is_safe);
    CHECK(bench.listener.told_events.size() <= bench.journal.committed);
  }
}

TEST_CASE("run: a prompt that nobody answers ends within its time and stops the run", "[sequence]") {
  test::FakeBench bench;
  bench.person.is_there = false;
  const auto result = bench.run(test::around(level_steps));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::no_answer);
  CHECK(result.error->message ==
        "did not come about within 600 s; nobody answered \"Insert the pressed test disc and start track 2\"");
  CHECK(result.error->where == "test.yaml:22:5: step \"prompt: Insert the pressed test disc and start track 2\"");
  CHECK(result.closed_s == Approx(600).margin(0.2));  // the fake instruments' own times beside
  CHECK(bench.scope_is_safe);
}

TEST_CASE("run: otherwise takes over when a step breaks off, and later steps that miss its result are left out",
          "[sequence]") {
  test::FakeBench bench;
  bench.unit.has_eye = [](double) { return false; };
  const auto result = bench.run(test::around(
      "  - capture: rf\n    each: 500 us long\n    keep: 4 settled\n    try: at most 8\n    within: 60 s\n    name it: "
      "pressed\n"
      "    otherwise:\n      - note: there is no eye\n"
      "  - measure: eye level of pressed\n    name it: level_pressed\n    must meet: level\n  - note: the end\n"));
  CHECK_FALSE(result.error);
  CHECK(result.ended == "finished");
  CHECK(result.judgement == std::nullopt);
  CHECK(count<event::BrokenOff>(bench.journal) == 1);
  std::vector<std::string> notes;
  for (const auto& n : bench.journal.of<event::Noted>()) notes.push_back(n.text);
  CHECK(notes == std::vector<std::string>{"there is no eye", "left out: there is no pressed: \"capture: rf\" broke off",
                                          "the end"});
}

TEST_CASE("run: otherwise also follows a reading that does not meet its limit", "[sequence]") {
  test::FakeBench bench;
  bench.unit.level_v = [](double) { return 1.45; };
  const auto result = bench.run(test::around(
      test::capture_step +
      "  - measure: eye level of pressed\n    must meet: level\n    otherwise:\n      - note: too high\n"));
  CHECK(result.ended == "finished");
  CHECK(result.judgement == Judgement::fail);
  REQUIRE(count<event::Noted>(bench.journal) == 2);
  CHECK(bench.journal.of<event::Noted>().back().text == "too high");
}

TEST_CASE("run: cancelled while an operator is awaited, closing runs and the result says stopped", "[sequence]") {
  test::FakeBench bench;
  bench.person.is_there = false;
  const auto result = bench.run_stopped_at(30s, test::around(level_steps));
  CHECK(result.ended == "stopped");
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::stopped);
  CHECK(result.closed_s == Approx(30).margin(0.2));
  CHECK(bench.scope_is_safe);
  CHECK(bench.meter_is_safe);
  CHECK(std::holds_alternative<event::Closed>(bench.journal.events.back().body));
  CHECK(bench.journal.committed == bench.journal.events.size());
}

TEST_CASE("run: instruments are left safe even where the sequence forgets it", "[sequence]") {
  test::FakeBench bench;
  std::string text = test::around("  - note: nothing\n");
  text.erase(text.find("closing:"));
  const auto result = bench.run(text);
  CHECK(result.ended == "finished");
  CHECK(bench.scope_is_safe);
  CHECK(bench.meter_is_safe);
}

TEST_CASE("run: the same seed gives the same events", "[sequence]") {
  const auto times = [](std::uint64_t seed) {
    test::FakeBench bench;
    bench.seed = seed;
    bench.run(test::around(level_steps));
    std::vector<double> all;
    for (const auto& c : bench.journal.of<event::Captured>()) all.push_back(c.waveform->start_s);
    return all;
  };
  CHECK(times(3) == times(3));
  CHECK(times(3) != times(4));
}

TEST_CASE("run: a lost connection is opened again, settings are applied anew, and the record says so", "[sequence]") {
  const auto sequence = test::checked(test::around(level_steps));
  test::FakeBench whole;
  whole.run(sequence);
  const int calls = whole.calls.made;
  for (int n = 1; n <= calls; ++n) {
    const std::string& name = whole.calls.names[static_cast<std::size_t>(n - 1)];
    const bool in_a_step = name == "capture" || name.starts_with("set up") || name == "read d.c.";
    if (!in_a_step) continue;
    CAPTURE(n, name);
    test::FakeBench bench;
    bench.calls.fail_at = n;
    bench.calls.fail_with = base::ErrorCode::connection_lost;
    const auto result = bench.run(sequence);
    CHECK_FALSE(result.error);
    CHECK(result.ended == "finished");
    CHECK(result.judgement == Judgement::pass);
    const auto notes = bench.journal.of<event::Noted>();
    REQUIRE(notes.size() == whole.journal.of<event::Noted>().size() + 1);
    const bool told = std::any_of(notes.begin(), notes.end(), [](const event::Noted& note) {
      return note.text.find("opened again, settings applied anew") != std::string::npos;
    });
    CHECK(told);
    const auto& names = bench.calls.names;
    const auto lost = names.begin() + n;
    CHECK(std::count(lost, names.end(), "greet scope") == 1);
    if (name == "capture") CHECK(std::count(lost, names.end(), "set up scope") == 1);
  }
}

TEST_CASE("run: a connection that is lost again and again stops the run after three times", "[sequence]") {
  const auto sequence = test::checked(test::around(level_steps));
  test::FakeBench whole;
  whole.run(sequence);
  const auto& names = whole.calls.names;
  const auto capture = std::find(names.begin(), names.end(), "capture") - names.begin();
  test::FakeBench bench;
  bench.calls.fail_with = base::ErrorCode::connection_lost;
  bench.calls.fail_at = static_cast<int>(capture) + 1;
  bench.calls.fail_more = 1'000'000;
  const auto result = bench.run(sequence);
  CHECK(result.ended == "stopped");
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::connection_lost);
  CHECK(result.error->where.starts_with("test.yaml:"));
}
