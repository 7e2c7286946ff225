// SPDX-License-Identifier: Apache-2.0
#include "core/service/retention.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <catch2/catch.hpp>

#include <fstream>

#include "core/record/archive/put_away.hpp"
#include "core/record/run_record.hpp"
#include "core/service/http/problem.hpp"
#include "tests/core/report/eye_run.hpp"
#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using namespace eyelevel::service;
using std::chrono::days;
using test::Daemon;

namespace {

RetentionRead read(const std::string& text) { return read_retention(yaml::load_text("rules.yaml", text)); }

std::string mistakes_of(const std::string& text) {
  std::string all;
  const auto given = read(text);
  for (const auto& mistake : given.mistakes.list()) all += yaml::print(mistake) + "\n";
  return all;
}

struct Old {
  test::TemporaryFolder folder;
  std::unique_ptr<record::Store> store = record::open_file_store(folder / "records.db");
  std::string run = test::store_eye_run(*store, {.captures = 14});
  base::UtcTime begun = store->run(run).begun;
  RetentionRules rules{0, days(90), days(730), folder / "archive"};

  Retained after(days age, Dry dry = Dry::no, const std::stop_token& stop = {}) const {
    return retain(*store, rules, begun + age, "eyeleveld", dry, stop);
  }
};

}  // namespace

TEST_CASE("retention: the rules are read, with the hour that is usual", "[service]") {
  const auto given = read(
      "retention:\n  at: 4:15\n  thin out after days: 90\n  archive after days: 730\n"
      "  archive folder: /var/lib/eyelevel/archive\n");
  REQUIRE(given.mistakes.fine());
  CHECK(given.rules.minute == 255);
  CHECK(given.rules.thin_out_after == days(90));
  CHECK(given.rules.archive_after == days(730));
  CHECK(given.rules.archive_folder == "/var/lib/eyelevel/archive");
  CHECK(read("retention:\n  thin out after days: 90\n").rules.minute == 210);
}

TEST_CASE("retention: rules that cannot be meant are refused at their place", "[service]") {
  using Catch::Contains;
  CHECK_THAT(mistakes_of("retention:\n  thin out after days: 0\n"), Contains("rules.yaml:2:") && Contains("is 0"));
  CHECK_THAT(mistakes_of("retention:\n  at: 24:00\n  thin out after days: 9\n"), Contains("hour and minute"));
  CHECK_THAT(mistakes_of("retention:\n  archive after days: 9\n"), Contains("belong together"));
  CHECK_THAT(mistakes_of("retention:\n  archive folder: x\n  thin out after days: 9\n"), Contains("belong together"));
  CHECK_THAT(mistakes_of("retention:\n  at: 03:30\n"), Contains("nothing would ever happen"));
  CHECK_THAT(mistakes_of("retention:\n  thin after days: 9\n"), Contains("thin out after days"));
}

TEST_CASE("retention: a young run is left, an older one thinned out, an old one archived", "[service]") {
  const Old old;
  CHECK(old.after(days(90)).runs_thinned == 0);
  const auto thinned = old.after(days(91));
  CHECK(thinned.runs_thinned == 1);
  CHECK(thinned.captures == 10);  // of 13 that were kept 3 stay, and the one that was not
  CHECK(thinned.failures.empty());
  const auto entries = old.store->book({.subject = old.run});
  REQUIRE(entries.size() == 1);
  CHECK(entries[0].because == "older than 90 days");
  CHECK(old.after(days(92)).runs_thinned == 0);

  const auto archived = old.after(days(731));
  CHECK(archived.runs_archived == 1);
  REQUIRE(archived.archives.size() == 1);
  CHECK(archived.archives[0] == (old.folder / "archive" / "runs-before-2030-01-08.eyelevel").string());
  CHECK(old.store->runs({}).empty());
  CHECK(record::restore(archived.archives[0], *old.store, {old.begun + days(732), "anna", ""}).runs == 1);
  CHECK(record::read_run(*old.store, old.run).thinned_out);
}

TEST_CASE("retention: what was archived before with its samples goes whole", "[service]") {
  const Old old;
  const auto done = old.after(days(731));
  CHECK(done.runs_archived == 1);
  CHECK(done.runs_thinned == 0);
}

TEST_CASE("retention: a dry run says what would go and changes nothing", "[service]") {
  const Old old;
  CHECK(old.after(days(91), Dry::yes).captures == 10);
  CHECK(old.after(days(731), Dry::yes).runs_archived == 1);
  CHECK_FALSE(std::filesystem::exists(old.folder / "archive"));
  CHECK(old.store->book({}).empty());
  CHECK(old.store->runs({}).size() == 1);
}

TEST_CASE("retention: an archive of the same day gets a name of its own", "[service]") {
  const Old old;
  std::filesystem::create_directory(old.folder / "archive");
  std::ofstream(old.folder / "archive" / "runs-before-2030-01-08.eyelevel") << "of before";
  CHECK(old.after(days(731)).archives.at(0).ends_with("runs-before-2030-01-08-2.eyelevel"));
}

TEST_CASE("retention: where the archive cannot be written, it is told, and the run stays and is thinned out tomorrow",
          "[service]") {
  const Old old;
  std::ofstream(old.folder / "archive") << "a file, no folder";
  const auto done = old.after(days(731));
  CHECK(done.runs_archived == 0);
  REQUIRE(done.failures.size() == 1);
  CHECK(old.store->runs({}).size() == 1);
}

TEST_CASE("retention: asked to stop, it touches no further run", "[service]") {
  const Old old;
  std::stop_source stop;
  stop.request_stop();
  CHECK(old.after(days(731), Dry::no, stop.get_token()).runs_archived == 0);
  CHECK(old.after(days(91), Dry::no, stop.get_token()).runs_thinned == 0);
}

TEST_CASE("retention: it comes some minutes after the beginning, then every day at its time", "[service]") {
  Daemon daemon;
  daemon.run_alone([](Daemon& d) -> task<> {
    const auto begin = d.house.timeline.utc();
    boost::asio::cancellation_signal end;
    boost::asio::co_spawn(co_await boost::asio::this_coro::executor, d.retention.keep(),
                          boost::asio::bind_cancellation_slot(end.slot(), boost::asio::detached));
    co_await d.house.timeline.sleep(std::chrono::minutes(5));
    CHECK_FALSE(d.retention.last());
    co_await d.house.timeline.sleep(std::chrono::minutes(10));
    REQUIRE(d.retention.last());
    CHECK(d.retention.last()->at <= begin + std::chrono::minutes(11));
    co_await d.house.timeline.sleep(std::chrono::hours(48));
    CHECK(d.retention.last()->at > begin + std::chrono::hours(24));
    CHECK(d.retention.next_due() > d.house.timeline.utc());
    end.emit(boost::asio::cancellation_type::terminal);
  });
}

TEST_CASE("retention: without rules nothing ever happens", "[service]") {
  Daemon daemon;
  Retention none(daemon.house.timeline, std::nullopt, [] { return record::open_memory_store(); });
  daemon.run_alone([&none](Daemon&) -> task<> {
    co_await none.keep();
    CHECK_FALSE(none.next_due());
    CHECK_THROWS_AS(co_await none.done("anna", Dry::no), http::Problem);
  });
}
