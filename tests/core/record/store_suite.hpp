// SPDX-License-Identifier: Apache-2.0
// What every store must do, said once. Each store's test opens its own and calls this.
#pragma once

#include <catch2/catch.hpp>

#include <limits>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/store/store.hpp"
#include "tests/core/record/sample_run.hpp"

namespace eyelevel::test {

inline base::UtcTime some_day() { return std::chrono::sys_days(std::chrono::year(2030) / std::chrono::January / 7); }

inline void store_keeps_runs(record::Store& store) {
  using namespace record;
  CHECK(store.runs({}).empty());
  const std::string first = store.reserve_run(some_day());
  const std::string second = store.reserve_run(some_day());
  CHECK(first == "2030-01-07-1");
  CHECK(second == "2030-01-07-2");
  CHECK(store.reserve_run(some_day() + std::chrono::days(1)) == "2030-01-08-1");
  CHECK(store.runs({}).empty());  // reserved, not begun
  CHECK_THROWS_AS(store.run(first), base::Error);

  const auto events = sample_events(first);
  store.write(first, std::span(events).first(7));
  CHECK(store.run(first).ended.empty());
  store.write(first, std::span(events).subspan(7));
  auto later = sample_event(second, 1,
                            event::Begun{"drift", "", "", "", {}, {}, "bench 2", "LF5-00002", "LF-5", {}, {}, {}, {}});
  later.utc += std::chrono::hours(1);
  store.write(second, std::span(&later, 1));

  const auto list = store.runs({});
  REQUIRE(list.size() == 2);
  CHECK(list[0].id == second);
  CHECK(list[1].id == first);
  CHECK(list[1].ended == "stopped");
  CHECK(list[1].begun == events.front().utc);
  RunQuery query;
  query.serial = "LF5-00002";
  REQUIRE(store.runs(query).size() == 1);
  CHECK(store.runs(query)[0].id == second);
  query.sequence = "pickup-level";
  CHECK(store.runs(query).empty());
  RunQuery one;
  one.at_most = 1;
  CHECK(store.runs(one).size() == 1);

  const auto back = store.events(first, Samples::all);
  REQUIRE(back.size() == events.size());
  for (std::size_t i = 0; i < back.size(); ++i) CHECK(text_of(to_json(back[i])) == text_of(to_json(events[i])));
  const auto texts = store.event_texts(first, 5);
  REQUIRE(texts.size() == events.size() - 5);
  CHECK(texts.front().number == 6);
  for (const auto& [number, text] : texts)
    CHECK(text == text_of(to_json(events[static_cast<std::size_t>(number - 1)])));
  CHECK(store.event_texts(first, static_cast<std::int64_t>(events.size())).empty());
  CHECK_THROWS_WITH(store.event_texts("2030-01-07-9", 0), Catch::Contains("no run"));
  const auto waveform = store.capture(first, 7);
  CHECK(waveform->codes == sample_waveform()->codes);
  CHECK(waveform->scale_v == sample_waveform()->scale_v);
  CHECK(waveform->screen->high_v == 2.6);
  CHECK_THROWS_WITH(store.capture(first, 8), Catch::Contains("event 8 holds no samples"));
  CHECK_THROWS_WITH(store.events("2030-01-07-9", Samples::none), Catch::Contains("nearest is 2030-01-07-2"));
  CHECK_THROWS_WITH(store.run("2030-01-07-9"), Catch::Contains("no run \"2030-01-07-9\""));
}

// `store` is empty.
inline void store_takes_in_runs(record::Store& store) {
  using namespace record;
  const std::string run = "2030-01-07-5";
  const auto events = sample_events(run);
  store.bring(run, std::span(events).first(4), "eyelevel 0.0.9");
  store.bring(run, events, "eyelevel 0.0.9");
  store.bring(run, std::span(events).first(7), {});
  const auto back = store.events(run, Samples::all);
  REQUIRE(back.size() == events.size());
  for (std::size_t i = 0; i < back.size(); ++i) CHECK(text_of(to_json(back[i])) == text_of(to_json(events[i])));
  CHECK(store.capture(run, 7)->codes == sample_waveform()->codes);
  CHECK(store.run(run).ended == "stopped");
  CHECK(store.run(run).program == "eyelevel 0.0.9");
  CHECK(store.reserve_run(some_day()) == "2030-01-07-6");

  auto other = sample_event(run, 2, event::Noted{{}, "another bench noted this"});
  CHECK_THROWS_WITH(store.bring(run, std::span(&other, 1), {}), Catch::Contains("there is another run 2030-01-07-5"));
  CHECK(store.events(run, Samples::none).size() == events.size());
  CHECK_THROWS_WITH(store.bring("drift", events, {}), Catch::Contains("\"drift\" is no run"));

  CHECK(store.drop(run, {}));
  CHECK_FALSE(store.drop(run, {}));
  CHECK(store.runs({}).empty());
  CHECK_THROWS_WITH(store.run(run), Catch::Contains("no run"));
  CHECK(store.reserve_run(some_day()) == "2030-01-07-7");
}

// `store` is empty.
inline void store_finds_runs(record::Store& store) {
  using namespace record;
  using metrology::Judgement;
  const auto add = [&](int days, const std::string& model, const std::string& who, std::optional<Judgement> judgement) {
    const base::UtcTime at = some_day() + std::chrono::days(days);
    const std::string run = store.reserve_run(at);
    std::vector<event::Event> events{
        {run, 1, 0, at, event::Begun{"pickup-level", "", "", "", {}, {}, "one", "LF2-00417", model, {}, {}, {}, {}}},
        {run, 2, 1, at, event::Answered{{}, "done", who}},
        {run, 3, 2, at, event::Answered{{}, "done", "somebody else"}},
        {run, 4, 3, at, event::Closed{"finished", judgement}}};
    store.write(run, events);
    return run;
  };
  const std::string first = add(0, "LF-2", "anna", Judgement::pass);
  const std::string second = add(1, "LF-5", "anna", Judgement::fail);
  const std::string third = add(2, "LF-2", "ben", std::nullopt);
  const auto found = [&](const RunQuery& query) {
    std::vector<std::string> ids;
    for (const RunSummary& run : store.runs(query)) ids.push_back(run.id);
    return ids;
  };
  using Ids = std::vector<std::string>;
  RunQuery query;
  query.model = "LF-2";
  CHECK(found(query) == Ids{third, first});
  query.operator_name = "anna";
  CHECK(found(query) == Ids{first});
  query.model.reset();
  CHECK(found(query) == Ids{second, first});
  query.judgement = Judgement::fail;
  CHECK(found(query) == Ids{second});
  RunQuery dated;
  dated.from = some_day() + std::chrono::days(1);
  CHECK(found(dated) == Ids{third, second});
  dated.until = some_day() + std::chrono::days(2);
  CHECK(found(dated) == Ids{second});
  CHECK(store.run(third).operator_name == "ben");
}

inline record::BookEntry sample_entry(int minutes, const std::string& kind = "unit taken in",
                                      const std::string& subject = "LF2-00417") {
  return {0, some_day() + std::chrono::minutes(minutes), {}, kind, subject, "LF-2", "anna", "skips", "{\"version\":1}"};
}

// `store` is empty.
inline void store_keeps_books(record::Store& store) {
  using namespace record;
  CHECK(store.book({}).empty());
  const std::vector<BookEntry> two{sample_entry(0), sample_entry(5, "pickup fitted", "PU-31")};
  const auto kept = store.note(two);
  REQUIRE(kept.size() == 2);
  CHECK(kept[0].number == 1);
  CHECK(kept[1].number == 2);
  CHECK(kept[1].placed == two[1].utc);
  CHECK_FALSE(is_out_of_time(kept[1]));

  // The clock went back: it is kept behind what was there, with what the clock said.
  const BookEntry back = sample_entry(-60);
  const auto late = store.note(std::span(&back, 1));
  CHECK(late.at(0).placed == two[1].utc);
  CHECK(is_out_of_time(late.at(0)));
  const auto all = store.book({});
  REQUIRE(all.size() == 3);
  CHECK(all[2].utc == back.utc);
  CHECK(all[2].because == "skips");
  CHECK(all[2].body == "{\"version\":1}");
  CHECK(store.book({.kind = "unit taken in"}).size() == 2);
  CHECK(store.book({.subject = "PU-31"}).at(0).number == 2);
  CHECK(store.book({.kind = "pickup fitted", .subject = "LF2-00417"}).empty());
  CHECK(store.book({.concerns = "LF-2"}).size() == 3);

  // Of another store: where it was placed there, and once.
  BookEntry other = sample_entry(2, "disc cleaned", "TD-1");
  other.placed = other.utc;
  store.bring_entries(std::vector{other, all[0]});
  store.bring_entries(std::vector{other});
  const auto with = store.book({});
  REQUIRE(with.size() == 4);
  CHECK(with[1].subject == "TD-1");
  CHECK(with[1].number == 4);
  CHECK(with[3].number == 3);
  CHECK(store.runs({}).empty());
}

struct SampleRun {
  int days = 0;
  std::string serial, model, bench, by;
  double value = 0;
  std::optional<metrology::Judgement> judgement;
};

// A run that measures "level" twice, the second time judged by an event of its own, and is closed.
inline std::string write_sample_run(record::Store& store, const SampleRun& x) {
  const base::UtcTime at = some_day() + std::chrono::days(x.days);
  const std::string run = store.reserve_run(at);
  metrology::Reading early = sample_reading(), late = sample_reading();
  early.name = late.name = "level";
  early.value = x.value - 1;
  late.value = x.value;
  late.limit.reset();
  late.judgement.reset();
  std::vector<event::Event> events{
      {run, 1, 0, at, event::Begun{"pickup-level", "", "", "", {}, {}, x.bench, x.serial, x.model, {}, {}, {}, {}}},
      {run, 2, 1, at, event::Measured{{}, early}},
      {run, 3, 2, at, event::Answered{{}, "done", x.by}},
      {run, 4, 3, at, event::Measured{{}, late}}};
  if (x.judgement) events.push_back({run, 5, 4, at, event::Judged{{}, "level", *x.judgement, {1.0, 1.5}}});
  events.push_back({run, 6, 5, at, event::Closed{"finished", x.judgement}});
  store.write(run, events);
  return run;
}

// `store` is empty.
inline void store_keeps_readings(record::Store& store) {
  using namespace record;
  using metrology::Judgement;
  CHECK(store.readings({}).empty());
  const std::string first = write_sample_run(store, {0, "LF2-1", "LF-2", "one", "anna", 1.2, Judgement::pass});
  const std::string second = write_sample_run(store, {1, "LF5-2", "LF-5", "one", "ben", 1.6, Judgement::fail});
  const std::string third = write_sample_run(store, {2, "LF2-1", "LF-2", "two", "anna", 1.3, std::nullopt});

  const auto all = store.readings({});
  REQUIRE(all.size() == 6);
  CHECK(all[0].run == third);
  CHECK(all[0].number == 4);
  CHECK(all[1].number == 2);
  const ReadingRow& row = all[4];
  CHECK(row.run == first);
  CHECK(row.name == "level");
  CHECK(row.value == 1.2);
  CHECK(row.unit == "V");
  CHECK(row.standard_uncertainty == sample_reading().interval.standard_uncertainty);
  CHECK(row.expanded_uncertainty == sample_reading().interval.expanded_uncertainty);
  CHECK(row.judgement == Judgement::pass);
  REQUIRE(row.limit);
  CHECK(row.limit->at_most == 1.5);  // of the event that judged, not of the reading before it
  CHECK(row.begun == some_day());
  CHECK(row.sequence == "pickup-level");
  CHECK(row.serial == "LF2-1");
  CHECK(row.model == "LF-2");
  CHECK(row.bench == "one");
  CHECK(row.operator_name == "anna");
  CHECK(all[5].operator_name == "anna");  // measured before anybody had answered
  CHECK(all[5].limit->at_most == sample_reading().limit->at_most);
  CHECK(all[5].judgement == sample_reading().judgement);
  CHECK_FALSE(all[0].limit);
  CHECK_FALSE(all[0].judgement);

  CHECK(store.readings({.name = "level"}).size() == 6);
  CHECK(store.readings({.name = "jitter"}).empty());
  CHECK(store.readings({.run = second}).size() == 2);
  CHECK(store.readings({.model = "LF-5"}).at(0).run == second);
  CHECK(store.readings({.name = "level", .serial = "LF2-1"}).size() == 4);
  CHECK(store.readings({.name = "level", .bench = "two"}).at(0).run == third);
  CHECK(store.readings({.bench = "one", .operator_name = "ben"}).size() == 2);
  CHECK(store.readings({.since = some_day() + std::chrono::days(1)}).size() == 4);
  CHECK(store.readings({.until = some_day() + std::chrono::days(1)}).size() == 2);
  CHECK(store.readings({.at_most = 3}).size() == 3);

  const auto tallies = store.tallies({});
  REQUIRE(tallies.size() == 3);
  CHECK(tallies[0].day == "2030-01-07");
  CHECK(tallies[0].model == "LF-2");
  CHECK(tallies[0].bench == "one");
  CHECK(tallies[0].operator_name == "anna");
  CHECK(tallies[0].sequence == "pickup-level");
  CHECK(tallies[0].judgement == Judgement::pass);
  CHECK(tallies[0].runs == 1);
  CHECK_FALSE(tallies[2].judgement);
  CHECK(store.tallies({.since_day = "2030-01-08", .until_day = "2030-01-08"}).at(0).model == "LF-5");

  store.drop(first, {});
  CHECK(store.readings({}).size() == 4);
  CHECK(store.tallies({}).size() == 2);
}

// `store` is empty.
inline void store_counts_and_measures_what_is_odd(record::Store& store) {
  using namespace record;
  const base::UtcTime at = some_day();
  const std::string run = store.reserve_run(at);
  metrology::Reading good = sample_reading(), endless = sample_reading();
  endless.value = std::numeric_limits<double>::infinity();
  good.interval.standard_uncertainty = std::numeric_limits<double>::quiet_NaN();
  good.judgement.reset();
  good.limit.reset();
  const std::vector<event::Event> events{
      {run, 1, 0, at, event::Begun{"proof", "", "", "", {}, {}, "one", "", "", {}, {}, "bench", {}}},
      {run, 2, 1, at, event::Measured{{}, good}},
      {run, 3, 2, at, event::Measured{{}, endless}},
      {run, 4, 3, at, event::Judged{{}, good.name, metrology::Judgement::fail, {1.0, 1.5}}},
      {run, 5, 4, at, event::Closed{"finished", metrology::Judgement::fail}}};
  store.write(run, events);
  store.bring(run, events, {});
  const auto rows = store.readings({});
  REQUIRE(rows.size() == 1);
  CHECK(rows[0].value == good.value);
  CHECK(rows[0].standard_uncertainty == 0);
  CHECK_FALSE(rows[0].judgement);    // that of the endless one
  CHECK(store.tallies({}).empty());  // a proof of the bench is no yield
}

// `store` is empty.
inline void store_thins_out(record::Store& store) {
  using namespace record;
  const std::string run = store.reserve_run(some_day());
  const auto events = sample_events(run);
  const std::vector<std::int64_t> captures{7};
  const std::vector<BookEntry> said{sample_entry(0, "captures thinned out", run)};
  RunQuery query;
  query.is_to_thin_out = true;
  store.write(run, std::span(events).first(events.size() - 1));
  CHECK(store.runs(query).empty());  // not closed
  CHECK_FALSE(store.thin_out(run, captures, said));
  CHECK(store.capture(run, 7)->size() == 1000);
  store.write(run, std::span(events).last(1));
  CHECK(store.runs(query).size() == 1);

  CHECK(store.thin_out(run, captures, said));
  CHECK(store.runs(query).empty());
  CHECK_THROWS_WITH(store.capture(run, 7), Catch::Contains("event 7 were thinned out"));
  CHECK(store.enclosure(run, 18)->size() == 6);
  // What the events say stays as it was, whoever reads them.
  const auto texts = store.event_texts(run, 0);
  const auto back = store.events(run, Samples::all);
  REQUIRE(back.size() == events.size());
  for (std::size_t i = 0; i < back.size(); ++i) {
    CHECK(texts[i].text == text_of(to_json(events[i])));
    CHECK(text_of(to_json(back[i])) == texts[i].text);
  }
  CHECK(std::get<event::Captured>(back[6].body).samples_left_out == 1000);
  CHECK(store.book({.subject = run}).size() == 1);
  // Once.
  CHECK_FALSE(store.thin_out(run, captures, said));
  CHECK_FALSE(store.thin_out("2030-01-07-9", captures, said));
  CHECK(store.book({.subject = run}).size() == 1);
  // Elsewhere it is the same, and the samples are missed there, too.
  const auto other = open_memory_store();
  other->bring(run, back, {});
  CHECK(other->event_texts(run, 0).at(6).text == texts.at(6).text);
  CHECK_THROWS_WITH(other->capture(run, 7), Catch::Contains("event 7 were thinned out"));

  const std::vector<BookEntry> gone{sample_entry(0, "run archived", run)};
  CHECK(store.drop(run, gone));
  CHECK_FALSE(store.drop(run, gone));
  CHECK(store.book({.subject = run}).size() == 2);
}

}  // namespace eyelevel::test
