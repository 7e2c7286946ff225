// SPDX-License-Identifier: Apache-2.0
#include "core/service/bench_operator.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "core/service/http/problem.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using service::BenchOperator;

namespace {

int status_of(BenchOperator& person, std::int64_t number, const std::string& text) {
  try {
    person.answer(number, text, "");
  } catch (const service::http::Problem& problem) {
    return problem.status();
  }
  return 204;
}

task<> ask_into(BenchOperator& person, bench::Question question, bench::Answer& answer) {
  answer = co_await person.ask(question);
}

}  // namespace

TEST_CASE("bench operator: the answer to the question that is open reaches the run, with who gave it", "[service]") {
  test::Simulated sim;
  int changes = 0;
  BenchOperator person(*sim.timeline, [&] { ++changes; });
  bench::Answer answer;
  sim.run([](BenchOperator& who, base::Timeline& timeline, bench::Answer& into) -> task<> {
    boost::asio::co_spawn(co_await boost::asio::this_coro::executor, ask_into(who, {.text = "Ready?"}, into),
                          boost::asio::detached);
    co_await timeline.sleep(std::chrono::seconds(1));
    REQUIRE(who.open());
    who.answer(who.open()->number, "done", "the pedal");
    co_await timeline.sleep(std::chrono::seconds(1));
  }(person, *sim.timeline, answer));
  CHECK(answer.text == "done");
  CHECK(answer.by == "the pedal");
  CHECK_FALSE(person.open());
  CHECK(changes == 2);
}

TEST_CASE("bench operator: an answer to no question, to an earlier one, or that is none, is refused", "[service]") {
  test::Simulated sim;
  BenchOperator person(*sim.timeline, [] {});
  CHECK(status_of(person, 1, "done") == 409);
  bench::Answer answer;
  sim.run([](BenchOperator& who, base::Timeline& timeline, bench::Answer& into) -> task<> {
    const bench::Question clean{.text = "Clean?", .kind = bench::AnswerKind::yes_or_no};
    boost::asio::co_spawn(co_await boost::asio::this_coro::executor, ask_into(who, clean, into), boost::asio::detached);
    co_await timeline.sleep(std::chrono::seconds(1));
    const auto number = who.open()->number;
    CHECK(status_of(who, number - 1, "yes") == 409);
    CHECK(status_of(who, number, "perhaps") == 422);
    CHECK(status_of(who, number, "yes") == 204);
    CHECK(status_of(who, number, "no") == 409);
    co_await timeline.sleep(std::chrono::seconds(1));
  }(person, *sim.timeline, answer));
  CHECK(answer.text == "yes");
}

TEST_CASE("bench operator: a question whose time is up is open no more", "[service]") {
  test::Simulated sim;
  BenchOperator person(*sim.timeline, [] {});
  bool in_time = true;
  sim.run([](BenchOperator& who, base::Timeline& timeline, bool& answered) -> task<> {
    bench::Answer answer;
    answered =
        co_await base::finished_within(timeline, std::chrono::seconds(5), ask_into(who, {.text = "Ready?"}, answer));
  }(person, *sim.timeline, in_time));
  CHECK_FALSE(in_time);
  CHECK_FALSE(person.open());
}
