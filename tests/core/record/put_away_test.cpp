// SPDX-License-Identifier: Apache-2.0
#include "core/record/archive/put_away.hpp"

#include <catch2/catch.hpp>

#include <fstream>

#include "core/record/books/corrections.hpp"
#include "core/record/run_record.hpp"
#include "tests/core/record/jobs_places.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

const Said said{test::some_day() + std::chrono::days(800), "eyeleveld", "older than 730 days"};
const base::UtcTime long_after = test::some_day() + std::chrono::days(70);

std::vector<std::string> ids(const std::vector<RunSummary>& runs) {
  std::vector<std::string> list;
  for (const auto& run : runs) list.push_back(run.id);
  return list;
}

void add_closed(Store& store, const std::string& run) { store.bring(run, test::sample_events(run), {}); }

// A finished proof of "bench 1", `days` after the day of the sample.
void add_proof(Store& store, const std::string& run, int days) {
  event::Begun begun;
  begun.bench = "bench 1";
  begun.proves = "bench";
  std::vector<event::Event> events{test::sample_event(run, 1, begun),
                                   test::sample_event(run, 2, event::Closed{"finished", std::nullopt})};
  for (auto& event : events) event.utc += std::chrono::days(days);
  store.bring(run, events, {});
}

}  // namespace

TEMPLATE_TEST_CASE("putting away: runs go into an archive as they are, and come back as they were", "[record]",
                   test::InFile, test::OnServer) {
  const test::TemporaryFolder folder;
  const TestType place;
  const auto store = open_store(place.where());
  add_closed(*store, "2030-01-07-1");
  const auto entry = entry_of(Corrected{"level_pressed", 1.4, true, "", ""}, "2030-01-07-1", "LF2-00417", said);
  store->note(std::span(&entry, 1));
  const auto texts = store->event_texts("2030-01-07-1", 0);
  const auto file = folder / "old.eyelevel";

  const auto runs = runs_to_put_away(*store, long_after);
  REQUIRE(ids(runs) == std::vector<std::string>{"2030-01-07-1"});
  CHECK(put_away(file, *store, runs, said).runs == 1);
  CHECK(store->runs({}).empty());
  CHECK(store->book({.subject = "2030-01-07-1"}).size() == 2);
  CHECK_THROWS_WITH(read_run(*store, "2030-01-07-1"),
                    Catch::Contains("run 2030-01-07-1 was moved into the archive " + file.string() + " on 2032-03-17"));

  CHECK(restore(file, *store, said).runs == 1);
  const auto back = store->event_texts("2030-01-07-1", 0);
  REQUIRE(back.size() == texts.size());
  for (std::size_t i = 0; i < back.size(); ++i) CHECK(back[i].text == texts[i].text);
  CHECK(store->capture("2030-01-07-1", 7)->codes == test::sample_waveform()->codes);
  CHECK(read_run(*store, "2030-01-07-1").corrections.size() == 1);
  // It was wanted: it stays, until it is that long ago.
  CHECK(runs_to_put_away(*store, said.utc).empty());
  CHECK(runs_to_put_away(*store, said.utc + std::chrono::days(1)).size() == 1);
}

TEST_CASE("putting away: a run that is not closed stays, and so do young ones", "[record]") {
  const test::TemporaryFolder folder;
  const auto store = open_memory_store();
  add_closed(*store, "2030-01-07-1");
  const auto open = test::sample_events("2030-01-07-2");
  store->bring("2030-01-07-2", std::span(open).first(8), {});
  CHECK(runs_to_put_away(*store, test::some_day()).empty());
  CHECK(ids(runs_to_put_away(*store, long_after)) == std::vector<std::string>{"2030-01-07-1"});
  // Whoever names it all the same does not move it.
  CHECK(put_away(folder / "a", *store, store->runs({}), said).left == 1);
  CHECK(ids(store->runs({})) == std::vector<std::string>{"2030-01-07-2"});
}

TEST_CASE("putting away: the last proof of a bench stays", "[record]") {
  const auto store = open_memory_store();
  add_proof(*store, "2030-01-07-1", 0);
  add_proof(*store, "2030-01-08-1", 1);
  CHECK(ids(runs_to_put_away(*store, long_after)) == std::vector<std::string>{"2030-01-07-1"});
}

TEST_CASE("putting away: a file that is there is not written over", "[record]") {
  const test::TemporaryFolder folder;
  const auto store = open_memory_store();
  add_closed(*store, "2030-01-07-1");
  std::ofstream(folder / "a") << "mine";
  CHECK_THROWS_WITH(put_away(folder / "a", *store, store->runs({}), said), Catch::Contains("is there already"));
  CHECK(store->runs({}).size() == 1);
}

TEST_CASE("putting away: where the archive cannot be written, every run stays", "[record]") {
  const test::TemporaryFolder folder;
  const auto store = open_memory_store();
  add_closed(*store, "2030-01-07-1");
  CHECK_THROWS_WITH(put_away(folder / "none" / "a", *store, store->runs({}), said),
                    Catch::Contains("cannot be written"));
  CHECK(store->runs({}).size() == 1);
  CHECK(store->book({}).empty());
}

TEST_CASE("putting away: ended between archive and store, doing it again loses and doubles nothing", "[record]") {
  const test::TemporaryFolder folder;
  const auto store = open_memory_store();
  add_closed(*store, "2030-01-07-1");
  add_closed(*store, "2030-01-07-2");
  // As a kill leaves it after the archive was written, and after one of the two runs was dropped.
  write_archive(folder / "first", *store, store->runs({}), {});
  store->drop("2030-01-07-1", {});
  put_away(folder / "second", *store, store->runs({}), said);
  CHECK(store->runs({}).empty());
  restore(folder / "first", *store, said);
  restore(folder / "second", *store, said);
  CHECK(store->runs({}).size() == 2);
  CHECK(store->capture("2030-01-07-2", 7)->size() == 1000);
}

TEST_CASE("putting away: a run that was thinned out is archived and restored as it is", "[record]") {
  const test::TemporaryFolder folder;
  const auto store = open_memory_store();
  add_closed(*store, "2030-01-07-1");
  store->thin_out("2030-01-07-1", std::vector<std::int64_t>{7}, {});
  const auto texts = store->event_texts("2030-01-07-1", 0);
  put_away(folder / "a", *store, store->runs({}), said);
  restore(folder / "a", *store, said);
  CHECK(store->event_texts("2030-01-07-1", 0).at(6).text == texts.at(6).text);
  CHECK_THROWS_WITH(store->capture("2030-01-07-1", 7), Catch::Contains("thinned out"));
}
