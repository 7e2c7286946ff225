// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/process/speaker.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "tests/instruments/plugin/hostile.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using plugin::process::Speaker;

namespace {

registers::Question poke() {
  return {.kind = registers::PartKind::verb, .name = "poke", .ask = {}, .values = {{"poke", "it"}}, .results = {}};
}

struct Asked {
  std::optional<registers::Answer> answer;
  std::string wrong = "nothing";
  base::ErrorCode code = base::ErrorCode::defect;
};

// One question in simulated time, which stands still meanwhile.
Asked ask(Speaker& speaker, base::Duration within = 5s) {
  test::Simulated sim;
  Asked asked;
  sim.run([](Speaker& s, base::Timeline& timeline, base::Duration limit, Asked& out) -> task<> {
    try {
      out.answer = co_await s.ask(poke(), timeline, limit);
    } catch (const base::Error& error) {
      out.wrong = error.what();
      out.code = error.record().code;
    }
  }(speaker, *sim.timeline, within, asked));
  CHECK(sim.timeline->now() == 0ns);
  return asked;
}

Asked ask_once(const std::string& mood, base::Duration within = 5s) {
  const test::HostilePlugin hostile(mood);
  Speaker speaker(hostile.manifest());
  speaker.hello();
  return ask(speaker, within);
}

using Catch::Matchers::Contains;

}  // namespace

TEST_CASE("process plugin: it says what it has and answers what it is asked", "[plugin]") {
  const test::HostilePlugin hostile("good");
  Speaker speaker(hostile.manifest());
  const auto parts = speaker.hello();
  REQUIRE(parts.size() == 1);
  CHECK(parts[0].declaration.name == "poke");
  CHECK(parts[0].declaration.from == "plugin hostile");
  for (int i = 0; i < 3; ++i) {
    const Asked asked = ask(speaker);
    REQUIRE(asked.answer);
    CHECK(asked.answer->reading->value == 1.5);
    CHECK(asked.answer->notes == std::vector<std::string>{"poked"});
  }
}

TEST_CASE("process plugin: a crash is told with its signal and the last words, and names the plugin", "[plugin]") {
  const Asked asked = ask_once("crash");
  CHECK_THAT(asked.wrong, Contains("plugin hostile: it crashed: no answer came; it ended by signal 11; it said last: "
                                   "about to fall"));
  CHECK(asked.code == base::ErrorCode::bad_answer);
}

TEST_CASE("process plugin: one that leaves is told with its status", "[plugin]") {
  CHECK_THAT(ask_once("leave").wrong, Contains("it ended with status 3"));
}

TEST_CASE("process plugin: one that hangs is a time-out, and so is one that closed its output and stays", "[plugin]") {
  const Asked hang = ask_once("hang", 200ms);
  CHECK_THAT(hang.wrong, Contains("no answer in time: it hangs\n  after 0.2"));
  CHECK(hang.code == base::ErrorCode::time_out);
  CHECK_THAT(ask_once("close").wrong, Contains("it crashed: no answer came"));
}

TEST_CASE("process plugin: bytes that mean nothing are refused, each with its reason", "[plugin]") {
  CHECK_THAT(ask_once("garbage").wrong, Contains("it is no JSON"));
  CHECK_THAT(ask_once("deep").wrong, Contains("it is no JSON"));
  CHECK_THAT(ask_once("other id").wrong, Contains("it answers question 3, but question 2 was asked"));
  CHECK_THAT(ask_once("no number").wrong, Contains("makes no sense"));
  CHECK_THAT(ask_once("extra key").wrong, Contains("'size' is not known here"));
}

TEST_CASE("process plugin: a flood ends at a bound, in one line or in many", "[plugin]") {
  CHECK_THAT(ask_once("flood").wrong, Contains("it floods: a line of more than 1048576 bytes"));
  CHECK_THAT(ask_once("many lines").wrong, Contains("it floods: there is more than one line of answer"));
  CHECK_THAT(ask_once("chatter", 1s).wrong, Contains("it hangs"));
}

TEST_CASE("process plugin: what is said unasked is told at the next question", "[plugin]") {
  const test::HostilePlugin hostile("unasked");
  Speaker speaker(hostile.manifest());
  speaker.hello();
  REQUIRE(ask(speaker).answer);
  std::string wrong;
  for (int i = 0; i < 1000 && wrong.empty(); ++i) {
    const Asked asked = ask(speaker);
    if (!asked.answer) wrong = asked.wrong;
  }
  CHECK_THAT(wrong,
             Contains("it spoke without being asked") || Contains("more than one line") || Contains("it is no JSON"));
}

TEST_CASE("process plugin: its memory ends at the bound", "[plugin]") {
  const test::HostilePlugin hostile("memory", "memory megabytes: 256\n");
  Speaker speaker(hostile.manifest());
  speaker.hello();
  CHECK_THAT(ask(speaker).wrong, Contains("it says: no memory"));
}

TEST_CASE("process plugin: its own refusal is told in its words, without what they do to a terminal", "[plugin]") {
  const test::HostilePlugin hostile("refuse");
  Speaker speaker(hostile.manifest());
  speaker.hello();
  for (int i = 0; i < 10; ++i) {  // never given up for it
    const Asked asked = ask(speaker);
    CHECK_THAT(asked.wrong, Contains("it says: cannot [31m today") && Contains("try: come back"));
    CHECK(asked.code == base::ErrorCode::instrument_error);
  }
}

TEST_CASE("process plugin: after a crash it is started again", "[plugin]") {
  const test::HostilePlugin hostile("crash\ngood");
  Speaker speaker(hostile.manifest(), {.first = 1ms, .most = 5ms});
  speaker.hello();
  CHECK_FALSE(ask(speaker).answer);
  CHECK(ask(speaker).answer);
}

TEST_CASE("process plugin: one that always breaks rests longer each time and is given up", "[plugin]") {
  const test::HostilePlugin hostile("crash");
  Speaker speaker(hostile.manifest(), {.first = 1ms, .most = 4ms, .failures_most = 4});
  speaker.hello();
  for (int i = 0; i < 4; ++i) CHECK_THAT(ask(speaker).wrong, Contains("it crashed"));
  for (int i = 0; i < 3; ++i) {
    const Asked asked = ask(speaker);
    CHECK_THAT(asked.wrong, Contains("it broke 4 times in a row and is given up"));
    CHECK(asked.code == base::ErrorCode::no_connection);
  }
}

TEST_CASE("process plugin: a question that would have to wait too long for the rest is refused at once", "[plugin]") {
  const test::HostilePlugin hostile("crash");
  Speaker speaker(hostile.manifest(), {.first = 1h, .most = 1h});
  speaker.hello();
  CHECK_THAT(ask(speaker).wrong, Contains("it crashed"));
  CHECK_THAT(ask(speaker).wrong, Contains("it broke 1 times in a row and rests"));
}

TEST_CASE("process plugin: one that speaks another protocol, or nothing, is refused", "[plugin]") {
  const test::HostilePlugin newer("newer");
  Speaker speaks_newer(newer.manifest());
  CHECK_THROWS_WITH(speaks_newer.hello(), Contains("it speaks protocol 2, this program speaks protocol 1"));
  const test::HostilePlugin mute("mute", "starts within: 200 ms\n");
  Speaker speaks_nothing(mute.manifest());
  CHECK_THROWS_WITH(speaks_nothing.hello(), Contains("no answer in time: it hangs"));
}

TEST_CASE("process plugin: starting has a limit of its own, also when it is started again", "[plugin]") {
  const test::HostilePlugin hostile("crash\nslow start", "starts within: 60 s\nanswers within: 400 ms\n");
  Speaker speaker(hostile.manifest(), {.first = 1ms, .most = 1ms});
  speaker.hello();
  CHECK_THAT(ask(speaker).wrong, Contains("it crashed"));
  CHECK(ask(speaker, 60s).answer);
}

TEST_CASE("process plugin: a program that cannot be started says why", "[plugin]") {
  const test::HostilePlugin hostile("good");
  std::filesystem::permissions(hostile.folder / "hostile_plugin.py", std::filesystem::perms(0644));
  Speaker speaker(hostile.manifest());
  CHECK_THROWS_WITH(speaker.hello(), Contains("Permission denied") && Contains("make it executable"));
}

TEST_CASE("process plugin: cancelling who asks ends the question, and the next one is answered", "[plugin]") {
  const test::HostilePlugin hostile("hang\ngood");
  Speaker speaker(hostile.manifest());
  speaker.hello();
  test::Wall wall;
  bool in_time = true;
  wall.run([](Speaker& s, base::Timeline& timeline, bool& out) -> task<> {
    auto asking = [](Speaker& inner, base::Timeline& time) -> task<> { co_await inner.ask(poke(), time, 1h); };
    out = co_await base::finished_within(timeline, 100ms, asking(s, timeline));
  }(speaker, *wall.timeline, in_time));
  CHECK_FALSE(in_time);
  CHECK(ask(speaker).answer);
}

TEST_CASE("process plugin: whether it ends with its input is told", "[plugin]") {
  const test::HostilePlugin good("good");
  Speaker ends(good.manifest());
  ends.hello();
  CHECK(ends.ends_by_itself(5s));
  const test::HostilePlugin stays("stays");
  Speaker never_ends(stays.manifest());
  never_ends.hello();
  CHECK_FALSE(never_ends.ends_by_itself(200ms));
}
