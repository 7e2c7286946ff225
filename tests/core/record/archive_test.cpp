// SPDX-License-Identifier: Apache-2.0
#include "core/record/archive/archive.hpp"

#include <catch2/catch.hpp>

#include <fstream>
#include <sstream>

#include "core/record/archive/frame.hpp"
#include "core/record/books/corrections.hpp"
#include "core/record/books/pickup_book.hpp"
#include "core/record/books/unit_book.hpp"
#include "tests/core/record/jobs_places.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

namespace fs = std::filesystem;

std::string bytes_of(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream all;
  all << in.rdbuf();
  return all.str();
}

void put(const fs::path& path, const std::string& bytes) { std::ofstream(path, std::ios::binary) << bytes; }

void note(Store& store, const BookEntry& entry) { store.note(std::span(&entry, 1)); }

// Two closed runs, one of them by an older program, one that is not closed, and books.
void fill(Store& store) {
  store.bring("2030-01-06-4", test::sample_events("2030-01-06-4"), "eyelevel 0.0.9");
  const auto run = store.reserve_run(test::some_day());
  store.write(run, test::sample_events(run));
  const auto open = store.reserve_run(test::some_day());
  const auto begun = test::sample_events(open);
  store.write(open, std::span(begun).first(3));
  const Said said{test::some_day(), "anna", "\"ä\"\n"};
  note(store, entry_of(TakenIn{"LF-2", "skips", 1200.1}, "LF2-00417", "", said));
  note(store, entry_of(PickupFitted{"LF-2", 1200.1, 0}, "PU-31", "LF2-00417", said));
  note(store, entry_of(PickupDescribed{"P-20", "11-pin", 0.0483}, "PU-31", "", said));
  note(store,
       entry_of(TakenIn{"LF-5", "hums", {}}, "LF5-00002", "", {test::some_day() - std::chrono::days(9), "ben", ""}));
  note(store, entry_of(Corrected{"level_pressed", 1.4, true, "", ""}, run, "LF2-00417", said));
}

Archived write_all(Store& store, const fs::path& path) {
  return write_archive(path, store, store.runs({}), store.book({}));
}

struct Inside {
  test::TemporaryFolder folder;
  fs::path file = folder / "a.eyelevel";
  std::unique_ptr<Store> store = open_memory_store();
  Inside() { fill(*store); }
  std::string written() {
    write_all(*store, file);
    return bytes_of(file);
  }
};

}  // namespace

TEMPLATE_TEST_CASE("archive: out of a store, into an empty one and out again, the bytes are the same", "[record]",
                   test::InFile, test::OnServer) {
  const test::TemporaryFolder folder;
  const TestType from, to;
  const auto first = open_store(from.where());
  fill(*first);
  const Archived out = write_all(*first, folder / "first");
  CHECK(out.runs == 2);
  CHECK(out.left == 1);
  CHECK(out.entries == 5);
  const auto second = open_store(to.where());
  const Archived in = read_archive(folder / "first", *second);
  CHECK(in.runs == 2);
  CHECK(in.entries == 5);
  CHECK(write_all(*second, folder / "second").left == 0);
  CHECK(bytes_of(folder / "first") == bytes_of(folder / "second"));
  CHECK(second->capture("2030-01-07-1", 7)->codes == test::sample_waveform()->codes);
  std::size_t enclosed = 0;
  for (const auto& event : first->events("2030-01-07-1", Samples::none)) {
    if (!std::holds_alternative<event::Enclosed>(event.body)) continue;
    ++enclosed;
    CHECK(*second->enclosure("2030-01-07-1", event.number) == *first->enclosure("2030-01-07-1", event.number));
  }
  CHECK(enclosed == 1);
  CHECK(second->run("2030-01-06-4").program == "eyelevel 0.0.9");
  // And once more changes nothing.
  read_archive(folder / "first", *second);
  write_all(*second, folder / "third");
  CHECK(bytes_of(folder / "first") == bytes_of(folder / "third"));
}

TEST_CASE("archive: what was kept in a file, on a server and in memory has the same bytes", "[record]") {
  const test::TemporaryFolder folder;
  const test::InFile file;
  const test::OnServer server;
  for (const std::string& where : {file.where(), server.where(), std::string(":memory:")}) {
    const auto store = open_store(where);
    fill(*store);
    write_all(*store, folder / "other");
    if (!fs::exists(folder / "one")) fs::copy(folder / "other", folder / "one");
    CHECK(bytes_of(folder / "one") == bytes_of(folder / "other"));
  }
}

TEST_CASE("archive: cut at any place, it changes nothing and says so", "[record]") {
  Inside inside;
  const std::string whole = inside.written();
  const auto cut = inside.folder / "cut";
  // Every place near the ends and at the lines, and some in between.
  for (std::size_t length = 0; length < whole.size();
       length += (length < 200 || whole.size() - length < 200) ? 1 : 997) {
    CAPTURE(length);
    put(cut, whole.substr(0, length));
    const auto store = open_memory_store();
    CHECK_THROWS_WITH(read_archive(cut, *store), Catch::Contains("cut:") && Catch::Contains("try:"));
    CHECK(store->runs({}).empty());
    CHECK(store->book({}).empty());
  }
}

TEST_CASE("archive: one damaged byte is found, and nothing is taken in", "[record]") {
  Inside inside;
  const std::string whole = inside.written();
  const auto bad = inside.folder / "bad";
  for (std::size_t at = 0; at < whole.size(); at += 211) {
    CAPTURE(at);
    std::string damaged = whole;
    damaged[at] = static_cast<char>(damaged[at] ^ 0x20);
    put(bad, damaged);
    const auto store = open_memory_store();
    CHECK_THROWS_WITH(read_archive(bad, *store), Catch::Contains("bad:"));
    CHECK(store->runs({}).empty());
    CHECK(store->book({}).empty());
  }
}

TEST_CASE("archive: one of a newer program is refused, and so is another file", "[record]") {
  const test::TemporaryFolder folder;
  const auto file = folder / "x";
  const auto store = open_memory_store();
  const auto with_heading = [](const std::string& heading) { return checksum_of(heading) + " " + heading + "\n"; };
  put(file, with_heading(R"({"format":"eyelevel records","version":2})"));
  CHECK_THROWS_WITH(read_archive(file, *store),
                    Catch::Contains("a newer eyelevel wrote this archive: its version is 2"));
  put(file, with_heading(R"({"format":"songs","version":1})"));
  CHECK_THROWS_WITH(read_archive(file, *store), Catch::Contains("this is no archive of records"));
  put(file, "time,volts\n");
  CHECK_THROWS_WITH(read_archive(file, *store), Catch::Contains("this is no archive of records"));
  CHECK_THROWS_WITH(read_archive(folder / "none", *store), Catch::Contains("cannot be read"));
}

TEST_CASE("archive: an event that says more than this program keeps is refused", "[record]") {
  Inside inside;
  std::string whole = inside.written();
  const std::string place = R"("text":"64 of 71 kept")";
  const auto at = whole.find(place);
  REQUIRE(at != std::string::npos);
  const auto begin = whole.rfind('\n', at) + 1, end = whole.find('\n', at);
  std::string line = whole.substr(begin + 9, end - begin - 9);
  line.insert(line.find(place), R"("colour":"blue",)");
  whole.replace(begin, end - begin, checksum_of(line) + " " + line);
  const auto newer = inside.folder / "newer";
  put(newer, whole);
  const auto store = open_memory_store();
  CHECK_THROWS_WITH(read_archive(newer, *store), Catch::Contains("would not keep all that stands in it"));
  CHECK(store->runs({}).empty());
}

TEST_CASE("archive: a run at odds with one that is there is refused before anything is written", "[record]") {
  Inside inside;
  inside.written();
  const auto store = open_memory_store();
  store->reserve_run(test::some_day());
  const auto other = test::sample_event("2030-01-07-1", 1, event::Noted{{}, "another run"});
  store->write("2030-01-07-1", std::span(&other, 1));
  CHECK_THROWS_WITH(read_archive(inside.file, *store), Catch::Contains("there is another run 2030-01-07-1"));
  CHECK(store->runs({}).size() == 1);
  CHECK(store->book({}).empty());
}

TEST_CASE("archive: the entries of runs are those of the runs, their units and the pickups in these", "[record]") {
  const Inside inside;
  RunQuery query;
  query.id = "2030-01-07-1";
  const auto entries = entries_of_runs(*inside.store, inside.store->runs(query));
  std::vector<std::string> kinds;
  for (const auto& entry : entries) kinds.push_back(entry.kind + " " + entry.subject);
  CHECK(kinds == std::vector<std::string>{"unit taken in LF2-00417", "pickup fitted PU-31", "pickup described PU-31",
                                          "run corrected 2030-01-07-1"});
}

TEST_CASE("archive: where it cannot be written nothing is left behind", "[record]") {
  Inside inside;
  CHECK_THROWS_WITH(write_all(*inside.store, inside.folder / "no" / "where"), Catch::Contains("cannot be written"));
  fs::create_directory(inside.folder / "taken");
  CHECK_THROWS_WITH(write_all(*inside.store, inside.folder / "taken"), Catch::Contains("cannot be written"));
  CHECK_FALSE(fs::exists(inside.folder / "taken.unfinished"));
}
