// SPDX-License-Identifier: Apache-2.0
#include "core/report/thin_out.hpp"

#include <catch2/catch.hpp>

#include <algorithm>

#include "core/base/error.hpp"
#include "core/report/export.hpp"
#include "core/report/sheet_content.hpp"
#include "core/report/words.hpp"
#include "tests/core/report/eye_run.hpp"

using namespace eyelevel;
using namespace eyelevel::report;

namespace {

const record::Said by_the_rules{std::chrono::sys_days(std::chrono::year(2030) / 4 / 7), "eyeleveld",
                                "older than 90 days"};

std::vector<std::int64_t> numbers(const ThinningPlan& plan) {
  std::vector<std::int64_t> list;
  for (const auto& gone : plan.said.gone) list.push_back(gone.event);
  return list;
}

// Captures of an eye with these levels, in two series of one name where the counting begins anew.
std::string store_levels(record::Store& store, const std::vector<std::pair<int, double>>& index_and_level) {
  const auto run = store.reserve_run({});
  base::Random random(3);
  std::vector<event::Event> events{{run, 1, 0, {}, event::Begun{}}};
  for (const auto& [index, level_v] : index_and_level) {
    auto waveform = std::make_shared<signal::Waveform>(test::eye_waveform(random, level_v));
    events.push_back({run, std::ssize(events) + 1, 0, {}, event::Captured{{}, "rf", "rf", index, waveform, ""}});
  }
  events.push_back({run, std::ssize(events) + 1, 1, {}, event::Closed{"finished", std::nullopt}});
  store.write(run, events);
  return run;
}

}  // namespace

TEST_CASE("thin out: of each series the first, the last and the one with the median level stay", "[report]") {
  const auto store = record::open_memory_store();
  // Events 2 to 6, and from 7 on a second series. Levels differ by far more than the analysis errs.
  const auto run =
      store_levels(*store, {{1, 1.0}, {2, 1.3}, {3, 0.9}, {4, 1.1}, {6, 1.4}, {1, 1.2}, {2, 1.0}, {3, 1.1}, {4, 0.9}});
  const auto plan = plan_thinning(*store, run);
  CHECK(numbers(plan) == std::vector<std::int64_t>{3, 4, 8});  // medians: 1.1 V (event 5), 1.1 V (event 9)
  CHECK(plan.said.kept == 6);
  CHECK(plan.samples == 30000);
}

TEST_CASE("thin out: a series of three stays as it is", "[report]") {
  const auto store = record::open_memory_store();
  CHECK(plan_thinning(*store, store_levels(*store, {{1, 1.0}, {2, 1.3}, {3, 0.9}})).said.gone.empty());
}

TEST_CASE("thin out: captures that are no eye keep the one in the middle", "[report]") {
  const auto store = record::open_memory_store();
  const auto run = store->reserve_run({});
  signal::Waveform flat;
  flat.codes = std::vector<float>(1000, 1.6F);
  flat.rate_hz = 20e6;
  const auto waveform = std::make_shared<const signal::Waveform>(flat);
  std::vector<event::Event> events{{run, 1, 0, {}, event::Begun{}}};
  for (int i = 1; i <= 5; ++i) events.push_back({run, i + 1, 0, {}, event::Captured{{}, "te", "te", i, waveform, ""}});
  store->write(run, events);
  CHECK(numbers(plan_thinning(*store, run)) == std::vector<std::int64_t>{3, 5});
}

TEST_CASE("thin out: what is kept of a run and what was not kept are two series, and the sheet shows all levels",
          "[report]") {
  const auto store = record::open_memory_store();
  const auto id = test::store_eye_run(*store, {});
  const SheetContent before = gather_sheet(*store, record::read_run(*store, id));
  const auto readings = readings_csv(record::read_run(*store, id));
  const auto plan = plan_thinning(*store, id);
  CHECK(plan.said.gone.size() == 71 - 6);
  CHECK(plan.said.kept == 6);

  REQUIRE(thin_out(*store, plan, by_the_rules));
  const auto run = record::read_run(*store, id);
  REQUIRE(run.thinned_out);
  CHECK(thinned_text(*run.thinned_out) ==
        "samples of 65 captures were thinned out on 2030-04-07 (eyeleveld: older than 90 days); 6 stay, and all "
        "readings and judgements as they were");
  const SheetContent after = gather_sheet(*store, run);
  REQUIRE(after.levels.size() == before.levels.size());
  for (std::size_t i = 0; i < after.levels.size(); ++i) {
    CHECK(after.levels[i].level_v == before.levels[i].level_v);
    CHECK(after.levels[i].time_s == before.levels[i].time_s);
  }
  REQUIRE(after.eye);
  CHECK(after.eye->captures == 3);
  CHECK(readings_csv(run) == readings);
}

TEST_CASE("thin out: a run that is not closed is never touched", "[report]") {
  const auto store = record::open_memory_store();
  const auto id = test::store_eye_run(*store, {.captures = 5, .closed = false});
  CHECK(runs_to_thin_out(*store, by_the_rules.utc).empty());
  CHECK_FALSE(thin_out(*store, plan_thinning(*store, id), by_the_rules));
  CHECK(store->book({}).empty());
}

TEST_CASE("thin out: old runs are found once, young ones not", "[report]") {
  const auto store = record::open_memory_store();
  const auto id = test::store_eye_run(*store, {.captures = 5});
  const auto begun = store->run(id).begun;
  CHECK(runs_to_thin_out(*store, begun).empty());
  REQUIRE(runs_to_thin_out(*store, by_the_rules.utc).size() == 1);
  CHECK(thin_out(*store, plan_thinning(*store, id), by_the_rules));
  CHECK(runs_to_thin_out(*store, by_the_rules.utc).empty());
}

TEST_CASE("thin out: where nothing goes, nothing is said", "[report]") {
  const auto store = record::open_memory_store();
  const auto id = test::store_eye_run(*store, {.captures = 3});
  CHECK(thin_out(*store, plan_thinning(*store, id), by_the_rules));
  CHECK(store->book({}).empty());
  CHECK(runs_to_thin_out(*store, by_the_rules.utc).empty());
}

TEST_CASE("thin out: a run that was thinned out in another store is left as it is", "[report]") {
  const auto store = record::open_memory_store(), other = record::open_memory_store();
  const auto id = test::store_eye_run(*store, {.captures = 20});
  CHECK(thin_out(*store, plan_thinning(*store, id), by_the_rules));
  other->bring(id, store->events(id, record::Samples::all), {});
  other->bring_entries(store->book({}));
  REQUIRE(runs_to_thin_out(*other, by_the_rules.utc).size() == 1);
  CHECK(thin_out(*other, plan_thinning(*other, id), by_the_rules));
  CHECK(other->book({}).size() == 1);
}

TEST_CASE("thin out: the export says of each capture how many samples it had", "[report]") {
  const auto store = record::open_memory_store();
  const auto id = test::store_eye_run(*store, {.captures = 5});
  const auto run = record::read_run(*store, id);
  const auto events_of = [](const std::string& whole) { return whole.substr(whole.find("\"events\"")); };
  const auto before = events_of(whole_run_json(*store, run));
  CHECK(thin_out(*store, plan_thinning(*store, id), by_the_rules));
  CHECK(events_of(whole_run_json(*store, run)) == before);
}
