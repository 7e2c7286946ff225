// SPDX-License-Identifier: Apache-2.0
#include "core/record/find_runs.hpp"

#include <catch2/catch.hpp>

#include "core/record/books/corrections.hpp"
#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

std::string add(Store& store, int day, const std::string& serial) {
  const base::UtcTime at = test::some_day() + std::chrono::days(day);
  const std::string run = store.reserve_run(at);
  const event::Event begun{run, 1, 0, at,
                           event::Begun{"drift", "", "", "", {}, {}, "one", serial, "LF-2", {}, {}, {}, {}}};
  store.write(run, std::span(&begun, 1));
  return run;
}

void correct(Store& store, const std::string& run, const Corrected& how) {
  const auto entry = entry_of(how, run, how.serial, {test::some_day(), "anna", "the wrong label was scanned"});
  store.note(std::span(&entry, 1));
}

std::vector<std::string> found(Store& store, const RunQuery& query) {
  std::vector<std::string> list;
  for (const RunSummary& run : find_runs(store, query)) list.push_back(run.id);
  return list;
}

}  // namespace

TEST_CASE("finding runs: one whose serial was corrected is found under the right one, in its place", "[record]") {
  const auto store = open_memory_store();
  const auto first = add(*store, 0, "LF2-1"), second = add(*store, 1, "LF2-2"), third = add(*store, 2, "LF2-1");
  correct(*store, second, {"", {}, true, "LF2-1", ""});
  RunQuery query;
  query.serial = "LF2-1";
  CHECK(found(*store, query) == std::vector{third, second, first});
  CHECK(find_runs(*store, query)[1].serial == "LF2-1");
  query.at_most = 2;
  CHECK(found(*store, query) == std::vector{third, second});
  query.serial = "LF2-2";
  CHECK(found(*store, query).empty());
  CHECK(found(*store, {}).size() == 3);
}

TEST_CASE("finding runs: those that fall out do not make the list shorter", "[record]") {
  const auto store = open_memory_store();
  const auto first = add(*store, 0, "LF2-1"), second = add(*store, 1, "LF2-1");
  correct(*store, second, {"", {}, true, "LF2-9", "LF-5"});
  RunQuery query;
  query.serial = "LF2-1";
  query.at_most = 1;
  CHECK(found(*store, query) == std::vector{first});
  RunQuery other;
  other.model = "LF-5";
  CHECK(found(*store, other) == std::vector{second});
}

TEST_CASE("finding runs: corrections of a run that is in another store find nothing here", "[record]") {
  const auto store = open_memory_store();
  correct(*store, "2029-12-24-7", {"", {}, true, "LF2-1", ""});
  RunQuery query;
  query.serial = "LF2-1";
  CHECK(find_runs(*store, query).empty());
}
