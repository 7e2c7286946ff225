// SPDX-License-Identifier: Apache-2.0
#include "core/record/journal/run_journal.hpp"

#include <catch2/catch.hpp>

#include "tests/core/record/store_suite.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

// Passes on to a memory store until the n-th write, which fails as a disk does; counts what came after.
class FailingStore final : public Store {
 public:
  explicit FailingStore(int good_writes) : left_(good_writes) {}
  std::string reserve_run(base::UtcTime now) override { return inner_->reserve_run(now); }
  void write(std::string_view run, std::span<const event::Event> events) override {
    ++tried;
    if (left_-- <= 0) throw base::Error(base::ErrorCode::not_recording, "not recording: the disk is full");
    inner_->write(run, events);
  }
  void bring(std::string_view run, std::span<const event::Event> events, std::string_view program) override {
    inner_->bring(run, events, program);
  }
  bool drop(std::string_view run, std::span<const BookEntry> said) override { return (*inner_).drop(run, said); }
  bool thin_out(std::string_view run, std::span<const std::int64_t> captures,
                std::span<const BookEntry> said) override {
    return (*inner_).thin_out(run, captures, said);
  }
  std::vector<RunSummary> runs(const RunQuery& q) override { return inner_->runs(q); }
  RunSummary run(std::string_view id) override { return inner_->run(id); }
  std::vector<event::Event> events(std::string_view run, Samples s) override { return inner_->events(run, s); }
  std::vector<EventText> event_texts(std::string_view run, std::int64_t after) override {
    return inner_->event_texts(run, after);
  }
  std::shared_ptr<const signal::Waveform> capture(std::string_view run, std::int64_t number) override {
    return inner_->capture(run, number);
  }
  std::shared_ptr<const std::string> enclosure(std::string_view run, std::int64_t number) override {
    return inner_->enclosure(run, number);
  }
  std::vector<BookEntry> note(std::span<const BookEntry> entries) override { return inner_->note(entries); }
  void bring_entries(std::span<const BookEntry> entries) override { inner_->bring_entries(entries); }
  std::vector<BookEntry> book(const BookQuery& query) override { return inner_->book(query); }
  std::vector<ReadingRow> readings(const ReadingQuery& query) override { return inner_->readings(query); }
  std::vector<Tally> tallies(const TallyQuery& query) override { return inner_->tallies(query); }
  bool works_inline() const override { return false; }
  std::string name() const override { return "failing"; }

  int tried = 0;

 private:
  int left_;
  std::unique_ptr<Store> inner_ = open_memory_store();
};

task<> write_steps(RunJournal& journal, std::size_t per_step, std::size_t& announced) {
  std::size_t in_step = 0;
  for (const auto& e : test::sample_events(journal.run())) {
    co_await journal.append(e);
    if (++in_step == per_step) {
      co_await journal.commit();
      announced += std::exchange(in_step, 0);
    }
  }
  co_await journal.commit();
  announced += in_step;
}

task<> append_one(RunJournal& journal, std::string run) {
  co_await journal.append(test::sample_event(run, 1, event::Noted{}));
}

task<> commit_only(RunJournal& journal) { co_await journal.commit(); }

}  // namespace

TEST_CASE("journal: events become visible step by step, through the store thread and inline", "[record]") {
  test::Simulated simulated;
  const auto memory = open_memory_store();
  FailingStore threaded(1000);
  StoreThread thread;
  for (Store* store : {memory.get(), static_cast<Store*>(&threaded)}) {
    RunJournal journal(*store, *simulated.timeline, &thread);
    std::size_t announced = 0;
    simulated.run(write_steps(journal, 3, announced));
    CHECK(announced == test::sample_bodies().size());
    CHECK(store->events(journal.run(), Samples::none).size() == announced);
  }
  CHECK(threaded.tried == 7);  // 21 events, 3 a step
}

TEST_CASE("journal: nothing is stored before the step is committed, and an empty step writes nothing", "[record]") {
  test::Simulated simulated;
  FailingStore store(1000);
  StoreThread thread;
  RunJournal journal(store, *simulated.timeline, &thread);
  simulated.run(append_one(journal, journal.run()));
  CHECK(store.tried == 0);
  simulated.run(commit_only(journal));
  CHECK(store.tried == 1);
  simulated.run(commit_only(journal));
  CHECK(store.tried == 1);
}

TEST_CASE("journal: whichever write fails, it is not tried again and all before it is there", "[record]") {
  for (int good = 0; good < 5; ++good) {
    CAPTURE(good);
    test::Simulated simulated;
    FailingStore store(good);
    StoreThread thread;
    RunJournal journal(store, *simulated.timeline, &thread);
    std::size_t announced = 0;
    CHECK_THROWS_WITH(simulated.run(write_steps(journal, 3, announced)), Catch::Contains("not recording"));
    CHECK_THROWS_WITH(simulated.run(append_one(journal, journal.run())), Catch::Contains("not recording"));
    CHECK_THROWS_WITH(simulated.run(commit_only(journal)), Catch::Contains("not recording"));
    CHECK(store.tried == good + 1);
    CHECK(announced == static_cast<std::size_t>(3 * good));
    if (good > 0) CHECK(store.events(journal.run(), Samples::none).size() == announced);
  }
}

TEST_CASE("journal: an event of another run and a file store without its thread are our defects", "[record]") {
  test::Simulated simulated;
  FailingStore store(1000);
  StoreThread thread;
  CHECK_THROWS_WITH(RunJournal(store, *simulated.timeline, nullptr), Catch::Contains("needs the store thread"));
  RunJournal journal(store, *simulated.timeline, &thread);
  CHECK_THROWS_WITH(simulated.run(append_one(journal, "2030-01-01-1")), Catch::Contains("2030-01-01-1"));
}
