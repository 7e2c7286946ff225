// SPDX-License-Identifier: Apache-2.0
#include "core/record/run_record.hpp"

#include <catch2/catch.hpp>

#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

TEST_CASE("run record: gathers instruments, captures, readings, notes and the reason of the end", "[record]") {
  const auto store = open_memory_store();
  const std::string id = store->reserve_run(test::some_day());
  store->write(id, test::sample_events(id));
  const RunRecord run = read_run(*store, "last");
  CHECK(run.summary.id == id);
  CHECK(run.begun.cautions.size() == 1);
  REQUIRE(run.instruments.size() == 1);
  CHECK(run.instruments[0].calibration_due == "2030-06-30");
  REQUIRE(run.captures.size() == 2);
  CHECK(run.captures[0].event_number == 7);
  CHECK(run.captures[1].not_kept == "no lock");
  REQUIRE(run.readings.size() == 1);
  // The judgement that came after the reading counts.
  CHECK(run.readings[0].judgement == metrology::Judgement::undecided);
  CHECK_FALSE(run.readings[0].limit->at_most);
  REQUIRE(run.findings.size() == 2);
  CHECK(run.findings[0].cause == "don't know");
  CHECK(run.findings[1].belief == Approx(0.41));
  CHECK(run.notes == std::vector<std::string>{"64 of 71 kept"});
  REQUIRE(run.broken_off.size() == 1);
  CHECK(run.broken_off[0].error.code == base::ErrorCode::time_out);
  CHECK(run.is_closed());
  CHECK(run.length_s == Approx(0.25 * 21).margin(1e-12));  // the stimulus spaces events by 0.25 s
  REQUIRE(run.proofs.size() == 1);
  CHECK(run.proofs[0].item == "self-test");
  REQUIRE(run.enclosures.size() == 1);
  CHECK(run.enclosures[0].name == "lens");
  CHECK(run.enclosures[0].size_bytes == 6);
}

TEST_CASE("run record: a run that goes on from another one has what that had come to", "[record]") {
  const event::Place place{"steps", 3, "note", "note: x", 28, 5};
  std::vector<event::Event> events;
  const auto add = [&](event::Body body) {
    events.push_back(test::sample_event("r", static_cast<std::int64_t>(events.size()) + 1, std::move(body)));
  };
  const event::Reached reached{place, {test::sample_reading()}, {{"clean", "yes"}}, {}, {}, {}, true};
  event::Begun begun;
  add(begun);
  add(reached);
  CHECK(record_of({}, events).readings.empty());
  events.clear();
  begun.goes_on_from = "2030-01-07-1";
  add(begun);
  add(reached);
  const RunRecord run = record_of({}, events);
  REQUIRE(run.readings.size() == 1);
  CHECK(run.readings[0].name == "level_pressed");
  REQUIRE(run.answers.size() == 1);
  CHECK(run.answers[0].answer == "yes");
  CHECK(run.answers[0].by == "run 2030-01-07-1");
}

TEST_CASE("run record: a run without its end is not closed, and an empty store has no last run", "[record]") {
  const auto store = open_memory_store();
  CHECK_THROWS_WITH(read_run(*store, "last"), Catch::Contains("holds no run yet"));
  const std::string id = store->reserve_run(test::some_day());
  const auto events = test::sample_events(id);
  store->write(id, std::span(events).first(5));
  CHECK_FALSE(read_run(*store, id).is_closed());
}

TEST_CASE("run record: what stopped a run is neither what an otherwise mended before nor what broke while closing",
          "[record]") {
  const auto at = [](const char* part, const char* verb) {
    event::Place place;
    place.part = part;
    place.verb = verb;
    return event::BrokenOff{place, {}};
  };
  RunRecord run;
  run.summary.ended = "stopped";
  CHECK(run.stopped_by() == nullptr);
  run.broken_off = {at("closing", "make safe")};
  REQUIRE(run.stopped_by() != nullptr);
  CHECK(run.stopped_by()->place.verb == "make safe");
  run.broken_off = {at("steps", "wait for"), at("steps", "capture"), at("closing", "make safe")};
  CHECK(run.stopped_by()->place.verb == "capture");
  run.summary.ended = "finished";
  CHECK(run.stopped_by() == nullptr);
}
