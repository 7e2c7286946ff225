// SPDX-License-Identifier: Apache-2.0
#include <sqlite3.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>

#include <array>
#include <csignal>
#include <fstream>

#include "core/record/journal/run_journal.hpp"
#include "core/record/migration/migrations.hpp"
#include "core/record/run_record.hpp"
#include "tests/core/record/failing_vfs.hpp"
#include "tests/core/record/store_suite.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::record;
namespace fs = std::filesystem;

namespace {

// A folder of its own for each test, gone afterwards.
void sql(const fs::path& path, const std::string& text) {
  sqlite3* db = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &db) == SQLITE_OK);
  CHECK(sqlite3_exec(db, text.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(db);
}

event::Event noted(const std::string& run, std::int64_t number) {
  return test::sample_event(run, number, event::Noted{{}, "step " + std::to_string(number)});
}

event::Event captured(const std::string& run, std::int64_t number) {
  return test::sample_event(run, number, event::Captured{{}, "pressed", "rf", 1, test::sample_waveform(20000), ""});
}

// Writes steps of three events for ever, telling of each after its commit. Never returns: somebody kills it.
task<> write_for_ever(RunJournal& journal, int told) {
  co_await journal.append(test::sample_event(journal.run(), 1, test::sample_bodies().front()));
  co_await journal.commit();
  for (std::int64_t step = 0;; ++step) {
    for (std::int64_t i = 0; i < 2; ++i) co_await journal.append(noted(journal.run(), 3 * step + 2 + i));
    co_await journal.append(captured(journal.run(), 3 * step + 4));
    co_await journal.commit();
    const std::int64_t announced = 3 * step + 4;
    if (::write(told, &announced, sizeof announced) != sizeof announced) co_return;
  }
}

}  // namespace

TEST_CASE("file store: keeps runs as every store must, also after it was closed and opened again", "[record]") {
  const test::TemporaryFolder folder;
  const auto path = folder / "made/on/the/way/bench.store";
  {
    const auto store = open_store(path.string());
    CHECK_FALSE(store->works_inline());
    test::store_keeps_runs(*store);
  }
  const auto again = open_file_store(path, {.create = false});
  CHECK(again->runs({}).size() == 2);
  CHECK(again->capture("2030-01-07-1", 7)->codes == test::sample_waveform()->codes);
  CHECK(again->reserve_run(test::some_day()) == "2030-01-07-3");
}

TEST_CASE("file store: finds runs by model, operator, judgement and day", "[record]") {
  const test::TemporaryFolder folder;
  test::store_finds_runs(*open_file_store(folder / "bench.store"));
}

TEST_CASE("file store: keeps books in the order in which they hold", "[record]") {
  const test::TemporaryFolder folder;
  test::store_keeps_books(*open_file_store(folder / "bench.store"));
}

TEST_CASE("file store: keeps readings beside their runs and counts these", "[record]") {
  const test::TemporaryFolder folder;
  test::store_keeps_readings(*open_file_store(folder / "bench.store"));
}

TEST_CASE("file store: readings that are not finite, and proofs of a bench, are kept out of the rows", "[record]") {
  const test::TemporaryFolder folder;
  test::store_counts_and_measures_what_is_odd(*open_file_store(folder / "bench.store"));
}

TEST_CASE("file store: samples are thinned out of closed runs for good, and the rest stays", "[record]") {
  const test::TemporaryFolder folder;
  test::store_thins_out(*open_file_store(folder / "bench.store"));
}

TEST_CASE("file store: takes in runs of another store, once", "[record]") {
  const test::TemporaryFolder folder;
  test::store_takes_in_runs(*open_file_store(folder / "bench.store"));
}

TEST_CASE("file store: a process killed at any instant loses nothing that it announced", "[record]") {
  // Steps announced before the kill; the kill itself falls anywhere in the next ones.
  for (const int steps : {1, 2, 7, 20}) {
    CAPTURE(steps);
    const test::TemporaryFolder folder;
    const auto path = folder / "bench.store";
    std::array<int, 2> pipe{};
    REQUIRE(::pipe(pipe.data()) == 0);
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      ::close(pipe[0]);
      const auto store = open_file_store(path);
      StoreThread thread;
      test::Wall wall;
      RunJournal journal(*store, *wall.timeline, &thread);
      wall.run(write_for_ever(journal, pipe[1]));
      ::_exit(0);
    }
    ::close(pipe[1]);
    std::int64_t announced = 0;
    for (int i = 0; i < steps; ++i) REQUIRE(::read(pipe[0], &announced, sizeof announced) == sizeof announced);
    ::kill(child, SIGKILL);
    int status = 0;
    ::waitpid(child, &status, 0);
    CHECK(WIFSIGNALED(status));
    for (std::int64_t more = 0; ::read(pipe[0], &more, sizeof more) == sizeof more;) announced = more;
    ::close(pipe[0]);

    const auto store = open_file_store(path);
    const RunRecord run = read_run(*store, "last");
    CHECK_FALSE(run.is_closed());
    CHECK(run.begun.serial == "LF2-00417");
    const auto events = store->events(run.summary.id, Samples::all);
    REQUIRE(events.size() >= static_cast<std::size_t>(announced));
    CHECK((events.size() - 1) % 3 == 0);  // whole steps only
    for (std::size_t i = 0; i < events.size(); ++i) {
      CHECK(events[i].number == static_cast<std::int64_t>(i) + 1);
      const auto* c = std::get_if<event::Captured>(&events[i].body);
      if (c != nullptr) CHECK(c->waveform->codes == test::sample_waveform(20000)->codes);
    }
  }
}

TEST_CASE("file store: a full disk is said, nothing is written after it, and the record stays readable", "[record]") {
  const test::TemporaryFolder folder;
  const auto path = folder / "small.store";
  const auto store = open_file_store(path, {.size_bytes_max = 400'000});
  const std::string run = store->reserve_run(test::some_day());
  const auto begun = test::sample_event(run, 1, test::sample_bodies().front());
  store->write(run, std::span(&begun, 1));
  std::int64_t good = 1;
  std::string message;
  while (message.empty() && good < 1000) {
    const auto next = captured(run, good + 1);
    try {
      store->write(run, std::span(&next, 1));
      ++good;
    } catch (const base::Error& e) {
      CHECK(e.record().code == base::ErrorCode::not_recording);
      message = e.what();
    }
  }
  CHECK(good > 2);
  CHECK_THAT(message, Catch::Contains("not recording: the disk is full") && Catch::Contains("small.store") &&
                          Catch::Contains("try: free some space"));
  const auto small = noted(run, good + 1);
  CHECK_THROWS_WITH(store->write(run, std::span(&small, 1)), Catch::Contains("the disk is full"));
  CHECK_THROWS_WITH(store->reserve_run(test::some_day()), Catch::Contains("the disk is full"));
  CHECK(store->events(run, Samples::all).size() == static_cast<std::size_t>(good));
  CHECK(open_file_store(path)->events(run, Samples::all).size() == static_cast<std::size_t>(good));
}

namespace {

// Opens, reserves and writes steps of two events until something fails; gives how many events were acknowledged.
std::size_t write_until_failure(const fs::path& path, std::string& run, std::string& message) {
  std::size_t acknowledged = 0;
  try {
    FileOptions options;
    options.vfs = test::FailingVfs::name;
    const auto store = open_file_store(path, options);
    run = store->reserve_run(test::some_day());
    for (std::int64_t number = 1; number <= 11; number += 2) {
      const auto first = number == 1 ? test::sample_event(run, 1, test::sample_bodies().front()) : noted(run, number);
      const std::vector<event::Event> step{first, captured(run, number + 1)};
      store->write(run, step);
      acknowledged += step.size();
    }
  } catch (const base::Error& e) {
    message = e.what();
  }
  return acknowledged;
}

}  // namespace

TEST_CASE("file store: whichever write or sync of the disk fails, what was acknowledged is there", "[record]") {
  for (const int code : {SQLITE_FULL, SQLITE_IOERR_FSYNC}) {
    int failures_said = 0;
    for (int nth = 1;; ++nth) {
      CAPTURE(code, nth);
      REQUIRE(nth < 1000);
      const test::TemporaryFolder folder;
      const auto path = folder / "bench.store";
      std::string run, message;
      std::size_t acknowledged = 0;
      bool failed = false;
      {
        const test::FailingVfs disk(nth, code);
        acknowledged = write_until_failure(path, run, message);
        failed = disk.has_failed();
      }
      if (!failed) break;
      // A failure in the clean-up after the last acknowledged write is nobody's loss; any other is said.
      if (!message.empty()) {
        ++failures_said;
        CHECK_THAT(message, Catch::Contains("bench.store"));
        CHECK_THAT(message, Catch::Contains(code == SQLITE_FULL ? "the disk is full" : "reading or writing it failed"));
      } else {
        CHECK(acknowledged == 12);
      }
      const auto store = open_file_store(path);
      if (acknowledged == 0) continue;
      const auto events = store->events(run, Samples::all);
      CHECK(events.size() >= acknowledged);
      CHECK(events.size() % 2 == 0);
      for (std::size_t i = 0; i < events.size(); ++i) CHECK(events[i].number == static_cast<std::int64_t>(i) + 1);
    }
    CHECK(failures_said > 7);  // opening, reserving and six steps have at least one each
  }
}

TEST_CASE("file store: two programs write into one file, and each run gets its own number", "[record]") {
  const test::TemporaryFolder folder;
  const auto path = folder / "shared.store";
  std::array<int, 2> pipe{};
  REQUIRE(::pipe(pipe.data()) == 0);
  constexpr int runs_each = 20;
  const auto write_runs = [&] {
    const auto store = open_file_store(path);
    for (int i = 0; i < runs_each; ++i) {
      const std::string run = store->reserve_run(test::some_day());
      const auto events = test::sample_events(run);
      store->write(run, events);
    }
  };
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    int result = 0;
    try {
      write_runs();
    } catch (const base::Error&) {
      result = 1;
    }
    ::_exit(result);
  }
  write_runs();
  int status = 0;
  ::waitpid(child, &status, 0);
  REQUIRE(WIFEXITED(status));
  CHECK(WEXITSTATUS(status) == 0);
  const auto list = open_file_store(path)->runs({});
  CHECK(list.size() == 2 * runs_each);
  for (const auto& run : list) CHECK(run.ended == "stopped");
}

TEST_CASE("file store: a lock held for too long is said, not waited for without end", "[record]") {
  const test::TemporaryFolder folder;
  const auto path = folder / "busy.store";
  const auto store = open_file_store(path, {.busy_wait_ms = 20});
  sqlite3* other = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &other) == SQLITE_OK);
  REQUIRE(sqlite3_exec(other, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr) == SQLITE_OK);
  CHECK_THROWS_WITH(store->reserve_run(test::some_day()),
                    Catch::Contains("another program kept it locked for too long"));
  sqlite3_close(other);
}

TEST_CASE("file store: what is no store of ours is refused by name and left as it was", "[record]") {
  const test::TemporaryFolder folder;
  const auto text = folder / "notes.txt";
  std::ofstream(text) << std::string(3000, 'x');
  CHECK_THROWS_WITH(open_file_store(text), Catch::Contains("notes.txt") && Catch::Contains("no SQLite file"));
  CHECK(fs::file_size(text) == 3000);

  const auto foreign = folder / "music.db";
  sql(foreign, "CREATE TABLE song (title TEXT)");
  const auto size = fs::file_size(foreign);
  CHECK_THROWS_WITH(open_file_store(foreign), Catch::Contains("the database of another program"));
  CHECK(fs::file_size(foreign) == size);

  const auto newer = folder / "newer.store";
  open_file_store(newer);
  const std::string format = std::to_string(migrations().size() + 1);
  sql(newer, "PRAGMA user_version=" + format);
  CHECK_THROWS_WITH(open_file_store(newer),
                    Catch::Contains("a newer eyelevel wrote this store: its format is " + format));

  CHECK_THROWS_WITH(open_file_store(folder / "absent.store", {.create = false}), Catch::Contains("no such file"));
  CHECK_THROWS_WITH(open_file_store("/proc/no/bench.store"), Catch::Contains("/proc/no/bench.store"));
  CHECK_THROWS_WITH(open_file_store(folder / "."), Catch::Contains("this is a folder"));
  CHECK_THROWS_WITH(open_file_store("/dev/null"), Catch::Contains("this is no regular file"));
}

TEST_CASE("file store: damaged events and samples are said, with the store's name", "[record]") {
  const test::TemporaryFolder folder;
  const auto path = folder / "bench.store";
  std::string run;
  {
    const auto store = open_file_store(path);
    run = store->reserve_run(test::some_day());
    store->write(run, test::sample_events(run));
  }
  sql(path, "UPDATE chunk SET bytes = x'00112233'");
  CHECK_THROWS_WITH(open_file_store(path)->capture(run, 7),
                    Catch::Contains("bench.store") && Catch::Contains("damaged"));
  sql(path, "UPDATE event SET body = '{' WHERE number = 3");
  CHECK_THROWS_WITH(open_file_store(path)->events(run, Samples::none),
                    Catch::Contains("bench.store") && Catch::Contains("no JSON"));
}
