// SPDX-License-Identifier: Apache-2.0
#include "core/record/move_runs.hpp"

#include <catch2/catch.hpp>

#include <map>

#include "core/base/error.hpp"
#include "core/record/store/rows.hpp"
#include "tests/core/record/jobs_places.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

using Whole = std::map<std::string, std::vector<std::string>>;

// Every run with every event, samples included.
Whole whole(Store& store) {
  Whole all;
  for (const RunSummary& run : store.runs({}))
    for (const event::Event& event : store.events(run.id, Samples::all)) {
      all[run.id].push_back(text_of(to_json(event)));
      for (const Chunk& chunk : chunks_of(event))
        all[run.id].emplace_back(reinterpret_cast<const char*>(chunk.data()), chunk.size());
    }
  return all;
}

void moves_all(Store& from, Store& to) {
  for (int i = 0; i < 3; ++i) {
    const auto run = from.reserve_run(test::some_day());
    from.write(run, test::sample_events(run));
  }
  const auto before = whole(from);
  // Broken off after the first came in and before it had left.
  to.bring("2030-01-07-1", from.events("2030-01-07-1", Samples::all), {});
  const Moved moved = move_runs(from, to);
  CHECK(moved.moved == 3);
  CHECK(moved.left == 0);
  CHECK(whole(to) == before);
  CHECK(from.runs({}).empty());
  CHECK(to.reserve_run(test::some_day()) == "2030-01-07-4");
  CHECK(move_runs(from, to).moved == 0);
}

}  // namespace

TEST_CASE("moving runs: from a file to a server nothing is lost and nothing doubled", "[record]") {
  const test::InFile file;
  const test::OnServer server;
  moves_all(*open_store(file.where()), *open_store(server.where()));
}

TEST_CASE("moving runs: from a server to a file nothing is lost and nothing doubled", "[record]") {
  const test::InFile file;
  const test::OnServer server;
  moves_all(*open_store(server.where()), *open_store(file.where()));
}

TEST_CASE("moving runs: the books are in both stores then", "[record]") {
  const auto from = open_memory_store(), to = open_memory_store();
  const auto entry = test::sample_entry(0);
  from->note(std::span(&entry, 1));
  move_runs(*from, *to);
  move_runs(*from, *to);
  CHECK(from->book({}).size() == 1);
  REQUIRE(to->book({}).size() == 1);
  CHECK(to->book({})[0].subject == "LF2-00417");
}

TEST_CASE("moving runs: one that is not closed stays", "[record]") {
  const auto from = open_memory_store(), to = open_memory_store();
  const auto run = from->reserve_run(test::some_day());
  const auto events = test::sample_events(run);
  from->write(run, std::span(events).first(3));
  CHECK(move_runs(*from, *to).left == 1);
  CHECK(from->runs({}).size() == 1);
  CHECK(to->runs({}).empty());
}

TEST_CASE("moving runs: two stores that each have another run of one name are kept apart", "[record]") {
  const auto from = open_memory_store(), to = open_memory_store();
  const auto run = from->reserve_run(test::some_day());
  const auto events = test::sample_events(run);
  from->write(run, events);
  to->reserve_run(test::some_day());
  const auto other = test::sample_event(run, 1, event::Noted{{}, "another run"});
  to->write(run, std::span(&other, 1));
  CHECK_THROWS_WITH(move_runs(*from, *to), Catch::Contains("there is another run " + run));
  CHECK(from->events(run, Samples::none).size() == events.size());
  CHECK(to->events(run, Samples::none).size() == 1);
}
