// SPDX-License-Identifier: Apache-2.0
#include "core/service/schedule.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <catch2/catch.hpp>
#include <cstdlib>
#include <ctime>

#include "core/base/gong.hpp"
#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using service::Schedule;
using test::Daemon;
namespace asio = boost::asio;

namespace {

// Central Europe's clock as POSIX writes it (IEEE Std 1003.1, 8.3): summer from the last Sunday of March, 2:00, to the
// last one of October, 3:00.
struct ClockOnTheWall {
  explicit ClockOnTheWall(const char* zone = "CET-1CEST,M3.5.0,M10.5.0/3") {
    ::setenv("TZ", zone, 1);
    ::tzset();
  }
  ~ClockOnTheWall() {
    ::unsetenv("TZ");
    ::tzset();
  }
};

base::UtcTime utc(int year, unsigned month, unsigned day, int hour, int minute = 0) {
  return std::chrono::sys_days{std::chrono::year(year) / std::chrono::month(month) / std::chrono::day(day)} +
         std::chrono::hours(hour) + std::chrono::minutes(minute);
}

Schedule daily(int hour, int minute) {
  Schedule schedule;
  schedule.name = "morning";
  schedule.minute = hour * 60 + minute;
  schedule.job.bench = "test bench";
  schedule.job.sequence = Daemon::quiet;
  schedule.job.asked_by = "schedule: morning";
  return schedule;
}

service::SchedulesRead read(const std::string& text, const std::string& why_not = "") {
  return service::read_schedules(yaml::load_text("schedules.yaml", text), [&](const record::Job&) { return why_not; });
}

std::string mistakes_in(const std::string& text, const std::string& why_not = "") {
  std::string all;
  const auto done = read(text, why_not);
  for (const auto& mistake : done.mistakes.list()) all += yaml::print(mistake) + "\n";
  return all;
}

// Keeps the schedules for that long of simulated time.
task<> kept(Daemon& d, std::vector<Schedule> schedules, base::Duration length) {
  asio::cancellation_signal stop;
  base::Gong ended;
  bool is_running = true;
  const auto wake = [](const std::string&) {};
  asio::co_spawn(co_await asio::this_coro::executor, service::keep_schedules(d.house, std::move(schedules), wake),
                 asio::bind_cancellation_slot(stop.slot(), [&](const std::exception_ptr&) {
                   is_running = false;
                   ended.strike();
                 }));
  co_await d.house.timeline.sleep(length);
  stop.emit(asio::cancellation_type::terminal);
  while (is_running) co_await ended.wait();
}

}  // namespace

TEST_CASE("schedule: a file is read whole", "[service]") {
  const auto done = read(
      "schedules:\n"
      "  - name: morning proof\n    at: 7:05\n    on: [monday, friday]\n    bench: lanternfield-1\n"
      "    sequence: ready/bench-proof.yaml\n"
      "  - name: soak\n    at: 22:00\n    bench: lanternfield-2\n    sequence: ready/level-soak.yaml\n"
      "    serial: LF2-00417\n    model: lf-2.yaml\n    set: [ 'hours=8 h' ]\n    priority: 2\n");
  REQUIRE(done.mistakes.fine());
  REQUIRE(done.schedules.size() == 2);
  const auto& proof = done.schedules[0];
  CHECK(proof.minute == 7 * 60 + 5);
  CHECK(proof.on == std::array{false, true, false, false, false, true, false});
  CHECK(proof.job.asked_by == "schedule: morning proof");
  const auto& soak = done.schedules[1];
  CHECK(soak.on == std::array{true, true, true, true, true, true, true});
  CHECK(soak.job.serial == "LF2-00417");
  CHECK(soak.job.model == "lf-2.yaml");
  CHECK(soak.job.priority == 2);
  REQUIRE(soak.job.given.size() == 1);
  CHECK(soak.job.given[0].value == "8 h");
}

TEST_CASE("schedule: each mistake is told at its place, with what would be right", "[service]") {
  const std::string head = "schedules:\n  - name: a\n    bench: b\n    sequence: s.yaml\n";
  using Catch::Matchers::Contains;
  for (const char* time : {"24:00", "7.30", "730", "07:60", "soon", "-1:00", "07:30:00"})
    CHECK_THAT(mistakes_in(head + "    at: '" + time + "'\n"), Contains("schedules.yaml:5:9") && Contains("07:30"));
  CHECK_THAT(mistakes_in(head + "    at: 07:30\n    on: [ moonday ]\n"), Contains("'moonday' is no day"));
  CHECK_THAT(mistakes_in(head + "    at: 07:30\n    on: []\n"), Contains("names no day"));
  CHECK_THAT(mistakes_in(head + "    at: 07:30\n    set: [ hours ]\n"), Contains("NAME=VALUE"));
  CHECK_THAT(mistakes_in(head + "    at: 07:30\n    benhc: x\n"), Contains("bench"));
  CHECK_THAT(mistakes_in(head), Contains("at"));
  CHECK_THAT(mistakes_in(head + "    at: 07:30\n", "there is no bench \"b\""),
             Contains("schedules.yaml:4:15") && Contains("no bench"));
  CHECK_THAT(mistakes_in(head + "    at: 07:30\n  - name: a\n    at: 08:00\n    bench: b\n    sequence: s.yaml\n"),
             Contains("a second time"));
}

TEST_CASE("schedule: due at its minute of the clock on the wall, on its days", "[service]") {
  const ClockOnTheWall clock;
  auto schedule = daily(7, 30);
  CHECK(service::next_due(schedule, utc(2030, 1, 7, 6, 29)) == utc(2030, 1, 7, 6, 30));
  CHECK(service::next_due(schedule, utc(2030, 1, 7, 6, 30)) == utc(2030, 1, 8, 6, 30));
  CHECK(service::next_due(schedule, utc(2030, 7, 1, 0)) == utc(2030, 7, 1, 5, 30));
  CHECK(service::last_due(schedule, utc(2030, 1, 7, 6, 30)) == utc(2030, 1, 7, 6, 30));
  CHECK(service::last_due(schedule, utc(2030, 1, 7, 6, 29)) == utc(2030, 1, 6, 6, 30));
  schedule.on = {false, true, false, false, false, false, false};  // 2030-01-07 is a Monday
  CHECK(service::next_due(schedule, utc(2030, 1, 7, 6, 30)) == utc(2030, 1, 14, 6, 30));
  CHECK(service::last_due(schedule, utc(2030, 1, 13, 23)) == utc(2030, 1, 7, 6, 30));
}

TEST_CASE("schedule: an hour that the clock leaves out comes late, one that it shows twice comes once", "[service]") {
  const ClockOnTheWall clock;
  const auto schedule = daily(2, 30);
  // 2030-03-31: from 2:00 to 3:00 at 1:00 UTC.
  const auto spring = service::next_due(schedule, utc(2030, 3, 30, 12));
  CHECK(spring >= utc(2030, 3, 31, 0, 30));
  CHECK(spring <= utc(2030, 3, 31, 1, 30));
  CHECK(service::next_due(schedule, spring) == utc(2030, 4, 1, 0, 30));
  // 2030-10-27: 2:30 at 0:30 and again at 1:30 UTC.
  const auto autumn = service::next_due(schedule, utc(2030, 10, 26, 12));
  CHECK((autumn == utc(2030, 10, 27, 0, 30) || autumn == utc(2030, 10, 27, 1, 30)));
  CHECK(service::next_due(schedule, autumn) == utc(2030, 10, 28, 1, 30));
}

TEST_CASE("schedule: over days each job is added once when it is due, and none while the last one still waits",
          "[service]") {
  const ClockOnTheWall clock("UTC");
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    const auto begun = d.house.timeline.utc();
    const auto hour = static_cast<int>((begun - std::chrono::floor<std::chrono::days>(begun)) / 1h);
    const auto later = daily((hour + 5) % 24, 30);
    co_await kept(d, {later}, 24h * 3);
    auto jobs = d.jobs->list({});
    REQUIRE(jobs.size() == 1);  // nobody took it
    CHECK(jobs[0].asked == service::next_due(later, begun));
    REQUIRE(d.jobs->withdraw(jobs[0].id));
    co_await kept(d, {later}, 24h);
    CHECK(d.jobs->list({}).size() == 2);
    CHECK(d.jobs->list({})[0].asked_by == "schedule: morning");
  });
}

TEST_CASE("schedule: what came due while no daemon ran is made up for within two hours, and never twice", "[service]") {
  const ClockOnTheWall clock("UTC");
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    auto& time = d.house.timeline;
    const auto due = service::next_due(daily(7, 30), time.utc());
    co_await time.sleep(due + 119min - time.utc());
    co_await kept(d, {daily(7, 30)}, 1s);
    REQUIRE(d.jobs->list({}).size() == 1);
    REQUIRE(d.jobs->withdraw(1));
    co_await kept(d, {daily(7, 30)}, 1s);
    CHECK(d.jobs->list({}).size() == 1);
    co_await time.sleep(24h + 2min);
    co_await kept(d, {daily(7, 30)}, 1s);
    CHECK(d.jobs->list({}).size() == 1);  // two hours and more
  });
}

TEST_CASE("schedule: its time and days are written as in its file, Monday first", "[service]") {
  service::Schedule schedule;
  schedule.minute = 65;
  CHECK(service::time_text(schedule) == "01:05");
  CHECK(service::days_of(schedule).front() == "monday");
  CHECK(service::days_of(schedule).back() == "sunday");
  CHECK(service::days_of(schedule).size() == 7);
  schedule.on = {true, false, false, false, false, true, false};
  CHECK(service::days_of(schedule) == std::vector<std::string>{"friday", "sunday"});
}
