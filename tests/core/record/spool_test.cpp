// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/spool.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/core/record/store_suite.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::record;
using base::Error;
using base::ErrorCode;

namespace {

// A server that can be taken away: a file, which is refused as a server does that cannot be reached, on a store that is
// open and on one that is to be opened.
class Server {
 public:
  explicit Server(std::filesystem::path path) : path_(std::move(path)) {}
  bool is_away = false;

  std::unique_ptr<Store> open() {
    require();
    return std::make_unique<Connection>(*this);
  }
  std::unique_ptr<Store> itself() const { return open_file_store(path_); }

 private:
  struct Connection final : Store {
    explicit Connection(Server& of) : server(of), inner(of.itself()) {}
    std::string reserve_run(base::UtcTime now) override { return there().reserve_run(now); }
    void write(std::string_view run, std::span<const event::Event> events) override {
      if (server.is_away) throw Error(ErrorCode::not_recording, "not recording: the database cannot be reached");
      inner->write(run, events);
    }
    void bring(std::string_view run, std::span<const event::Event> events, std::string_view program) override {
      if (server.is_away) throw Error(ErrorCode::not_recording, "not recording: the database cannot be reached");
      inner->bring(run, events, program);
    }
    bool drop(std::string_view run, std::span<const BookEntry> said) override { return there().drop(run, said); }
    bool thin_out(std::string_view run, std::span<const std::int64_t> captures,
                  std::span<const BookEntry> said) override {
      return there().thin_out(run, captures, said);
    }
    std::vector<RunSummary> runs(const RunQuery& query) override { return there().runs(query); }
    RunSummary run(std::string_view id) override { return there().run(id); }
    std::vector<event::Event> events(std::string_view run, Samples s) override { return there().events(run, s); }
    std::vector<EventText> event_texts(std::string_view run, std::int64_t after) override {
      return there().event_texts(run, after);
    }
    std::shared_ptr<const signal::Waveform> capture(std::string_view run, std::int64_t number) override {
      return there().capture(run, number);
    }
    std::shared_ptr<const std::string> enclosure(std::string_view run, std::int64_t number) override {
      return there().enclosure(run, number);
    }
    std::vector<BookEntry> note(std::span<const BookEntry> entries) override { return there().note(entries); }
    void bring_entries(std::span<const BookEntry> entries) override { there().bring_entries(entries); }
    std::vector<BookEntry> book(const BookQuery& query) override { return there().book(query); }
    std::vector<ReadingRow> readings(const ReadingQuery& query) override { return there().readings(query); }
    std::vector<Tally> tallies(const TallyQuery& query) override { return there().tallies(query); }
    bool works_inline() const override { return false; }
    std::string name() const override { return "a server"; }

    Store& there() {
      server.require();
      return *inner;
    }
    Server& server;
    std::unique_ptr<Store> inner;
  };

  void require() const {
    if (is_away) throw Error(ErrorCode::no_connection, "the database cannot be reached");
  }
  std::filesystem::path path_;
};

struct Both {
  test::TemporaryFolder folder;
  Server server{folder / "server.db"};
  std::unique_ptr<SpooledStore> store = open();

  std::unique_ptr<SpooledStore> open() {
    return std::make_unique<SpooledStore>([this] { return server.open(); }, open_file_store(spool()));
  }
  std::filesystem::path spool() const { return folder / "spool.db"; }
};

ErrorCode code_of(const std::function<void()>& work) {
  try {
    work();
  } catch (const Error& e) {
    return e.record().code;
  }
  FAIL("nothing was thrown");
  return ErrorCode::defect;
}

void check_whole(Store& store, const std::string& run, const std::vector<event::Event>& events) {
  const auto back = store.events(run, Samples::all);
  REQUIRE(back.size() == events.size());
  for (std::size_t i = 0; i < back.size(); ++i) CHECK(text_of(to_json(back[i])) == text_of(to_json(events[i])));
  CHECK(store.capture(run, 7)->codes == test::sample_waveform()->codes);
}

}  // namespace

TEST_CASE("spooled store: keeps runs as every store must, on the server, and the spool is empty afterwards",
          "[record]") {
  Both both;
  test::store_keeps_runs(*both.store);
  CHECK(both.server.itself()->runs({}).size() == 2);
  CHECK(open_file_store(both.spool())->runs({}).size() == 1);  // the one that has not closed
}

TEST_CASE("spooled store: a run goes on while the server is away, and is there, once, when it is back", "[record]") {
  Both both;
  const std::string run = both.store->reserve_run(test::some_day());
  const auto events = test::sample_events(run);
  both.store->write(run, std::span(events).first(3));
  both.server.is_away = true;
  both.store->write(run, std::span(events).subspan(3, 5));
  both.store->write(run, std::span(events).subspan(8));
  check_whole(*both.store, run, events);
  CHECK(both.store->run(run).ended == "stopped");
  CHECK(both.store->runs({}).size() == 1);
  CHECK(code_of([&] { both.store->catch_up(); }) == ErrorCode::no_connection);
  CHECK(both.server.itself()->events(run, Samples::none).size() == 3);
  both.server.is_away = false;
  both.store->catch_up();
  check_whole(*both.server.itself(), run, events);
  CHECK(open_file_store(both.spool())->runs({}).empty());
  both.store->catch_up();
  check_whole(*both.store, run, events);
}

TEST_CASE("spooled store: once the server is back, a run under way is told to it step by step again", "[record]") {
  Both both;
  const std::string run = both.store->reserve_run(test::some_day());
  const auto events = test::sample_events(run);
  both.store->write(run, std::span(events).first(3));
  both.server.is_away = true;
  both.store->write(run, std::span(events).subspan(3, 1));
  both.server.is_away = false;
  both.store->write(run, std::span(events).subspan(4, 1));  // it does not wait for what the server lacks
  CHECK(both.server.itself()->events(run, Samples::none).size() == 3);
  both.store->catch_up();
  CHECK(both.server.itself()->events(run, Samples::none).size() == 5);
  both.store->write(run, std::span(events).subspan(5));
  check_whole(*both.server.itself(), run, events);
}

TEST_CASE("spooled store: what a daemon that was killed had in its spool is brought in by the next", "[record]") {
  Both both;
  const std::string run = both.store->reserve_run(test::some_day());
  const auto events = test::sample_events(run);
  both.store->write(run, std::span(events).first(1));
  both.server.is_away = true;
  both.store->write(run, std::span(events).subspan(1));
  both.server.is_away = false;
  both.store = both.open();
  check_whole(*both.store, run, events);
  both.store->catch_up();
  check_whole(*both.server.itself(), run, events);
}

TEST_CASE("spooled store: no run begins while the server is away", "[record]") {
  Both both;
  const std::string run = both.store->reserve_run(test::some_day());
  const auto events = test::sample_events(run);
  both.server.is_away = true;
  CHECK(code_of([&] { both.store->reserve_run(test::some_day()); }) == ErrorCode::no_connection);
  CHECK(code_of([&] { both.store->write(run, std::span(events).first(2)); }) == ErrorCode::not_recording);
  CHECK(code_of([&] { both.open(); }) == ErrorCode::no_connection);
  both.server.is_away = false;
  both.store->catch_up();
  CHECK(both.server.itself()->runs({}).empty());
  both.store->write(run, events);
  check_whole(*both.server.itself(), run, events);
}

TEST_CASE("spooled store: a run that is another one on the server is said and kept, and the others are brought in",
          "[record]") {
  Both both;
  const std::string first = both.store->reserve_run(test::some_day());
  const std::string second = both.store->reserve_run(test::some_day());
  const auto of_first = test::sample_events(first), of_second = test::sample_events(second);
  both.store->write(first, std::span(of_first).first(1));
  both.store->write(second, std::span(of_second).first(1));
  both.server.is_away = true;
  both.store->write(first, std::span(of_first).subspan(1));
  both.store->write(second, std::span(of_second).subspan(1));
  both.server.is_away = false;
  const auto other = test::sample_event(first, 2, event::Noted{{}, "somebody else wrote this"});
  both.server.itself()->write(first, std::span(&other, 1));
  CHECK_THROWS_WITH(both.store->catch_up(), Catch::Contains("there is another run " + first));
  check_whole(*both.server.itself(), second, of_second);
  check_whole(*both.store, first, of_first);
  CHECK(open_file_store(both.spool())->runs({}).size() == 1);
}
