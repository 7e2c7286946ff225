// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/control.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

const std::string three_prompts =
    "  - prompt: first\n    within: 1 min\n  - prompt: second\n    within: 1 min\n"
    "  - in this order:\n      - prompt: third\n        within: 1 min\n    within: 5 s\n";

// Prompts are answered after 3 s each; `asks` is done at a moment of the run.
sequence::RunResult run_with(test::FakeBench& bench, base::Duration when,
                             const std::function<void(sequence::RunControl&)>& asks,
                             std::optional<base::Duration> then_go_on = {}, const std::string& steps = three_prompts) {
  sequence::RunControl control;
  const auto sequence = test::checked(test::around(steps));
  auto setting = bench.setting();
  setting.control = &control;
  sequence::RunResult result;
  boost::asio::co_spawn(bench.sim.loop, sequence::run(sequence, setting, bench.journal, {&bench.listener}),
                        [&](const std::exception_ptr& e, sequence::RunResult r) {
                          CHECK_FALSE(e);
                          result = std::move(r);
                        });
  bench.sim.run([](base::Timeline& t, base::Duration at, std::optional<base::Duration> later,
                   const std::function<void(sequence::RunControl&)>& what, sequence::RunControl& c) -> task<> {
    co_await t.sleep_until(at);
    what(c);
    if (later) {
      co_await t.sleep_until(*later);
      c.go_on();
    }
    co_await t.sleep(60s);
  }(*bench.sim.timeline, when, then_go_on, asks, control));
  return result;
}

}  // namespace

TEST_CASE("control: a stop after the step lets that one end, and closing is done", "[sequence]") {
  test::FakeBench bench;
  const auto result = run_with(bench, 1s, [](sequence::RunControl& c) { c.stop_after_step(); });
  CHECK(result.ended == "stopped");
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::stopped);
  CHECK(bench.person.asked == std::vector<std::string>{"first"});
  CHECK(bench.journal.of<event::Answered>().size() == 1);
  CHECK(bench.scope_is_safe);
}

TEST_CASE("control: who watches is told of each step and each capture before they are in the record", "[sequence]") {
  test::FakeBench bench;
  std::vector<std::string> steps;
  std::size_t captures = 0, recorded_before = 0;
  std::set<base::Duration> moments;
  sequence::RunControl control({.at_step = [&](const event::Place& place) { steps.push_back(place.verb); },
                                .at_capture =
                                    [&](const event::Captured& captured) {
                                      CHECK(captured.waveform);
                                      ++captures;
                                      moments.insert(bench.sim.timeline->now());
                                      recorded_before += bench.journal.of<event::Captured>().size();
                                    }});
  const auto sequence = test::checked(test::around(test::capture_step));
  auto setting = bench.setting();
  setting.control = &control;
  sequence::RunResult result;
  bench.sim.run([](sequence::RunResult& into, const sequence::Sequence& what, sequence::RunSetting how,
                   test::FakeBench& on) -> task<> {
    into = co_await sequence::run(what, std::move(how), on.journal, {&on.listener});
  }(result, sequence, setting, bench));
  CHECK(steps == std::vector<std::string>{"set up", "set up", "capture", "make safe"});
  CHECK(captures == bench.journal.of<event::Captured>().size());
  CHECK(captures >= 16);
  CHECK(moments.size() == captures);  // each when it was taken, not all when the series is over
  CHECK(recorded_before == 0);
}

TEST_CASE("control: a paused run waits before its next step, and its times do not run meanwhile", "[sequence]") {
  test::FakeBench bench;
  const auto result = run_with(bench, 4s, [](sequence::RunControl& c) { c.pause(); }, 1000s);
  CHECK(result.ended == "finished");
  CHECK(bench.person.asked == std::vector<std::string>{"first", "second", "third"});
  std::vector<std::string> notes;
  for (const auto& noted : bench.journal.of<event::Noted>()) notes.push_back(noted.text);
  CHECK(notes == std::vector<std::string>{"paused before this step", "going on"});
  CHECK(result.closed_s > 1000);
}

TEST_CASE("control: a paused run can be stopped", "[sequence]") {
  test::FakeBench bench;
  const auto result = run_with(bench, 1s, [](sequence::RunControl& c) {
    c.pause();
    c.stop_after_step();
  });
  CHECK(result.ended == "stopped");
  CHECK(bench.person.asked.size() == 1);
}

TEST_CASE("control: steps at the same time pause together, once", "[sequence]") {
  test::FakeBench bench;
  const std::string pair =
      "      - in this order:\n          - prompt: a\n            within: 1 min\n"
      "          - prompt: b\n            within: 1 min\n";
  // 3 s until the first of them pauses, and two answers after it: the time runs out, but not by the pause.
  const auto result = run_with(
      bench, 1s, [](sequence::RunControl& c) { c.pause(); }, 1000s,
      "  - together:\n" + pair + pair + "    within: 8 s\n");
  REQUIRE(result.error);
  CHECK_THAT(result.error->message, Catch::Contains("did not come about within 8 s"));
}
