// SPDX-License-Identifier: Apache-2.0
#include "core/report/words.hpp"

#include <catch2/catch.hpp>

#include "core/record/store/store.hpp"
#include "tests/core/report/eye_run.hpp"

using namespace eyelevel;
using namespace eyelevel::report;
using metrology::Judgement;

namespace {

record::RunRecord stored(const test::EyeRun& wish) {
  const auto store = record::open_memory_store();
  return record::read_run(*store, test::store_eye_run(*store, wish));
}

record::RunRecord judged(double value, Judgement judgement, metrology::Limit limit) {
  record::RunRecord run;
  run.summary.ended = "finished";
  run.summary.judgement = judgement;
  metrology::Reading r;
  r.name = "level";
  r.value = value;
  r.unit = "V";
  r.interval.expanded_uncertainty = 0.02;
  r.limit = limit;
  r.judgement = judgement;
  run.readings = {r};
  return run;
}

}  // namespace

// GUM 7.2.6: the uncertainty has at most two significant digits, the value is given to the same place.
TEST_CASE("words: a value is written to the place that its uncertainty reaches", "[report]") {
  CHECK(value_text(1.20342, 0.02061, "V") == "1.203 V ± 0.021 V");
  CHECK(value_text(1.2, 0.5, "V") == "1.20 V ± 0.50 V");
  CHECK(value_text(0.0412, 0.0018, "V") == "41.2 mV ± 1.8 mV");
  CHECK(value_text(-0.00031, 0.00002, "V") == "-0.310 mV ± 0.020 mV");
  CHECK(value_text(0.5, 0.0031, "1") == "0.5000 ± 0.0031");
  CHECK(value_text(1234567, 4500, "Hz") == "1.235e+06 Hz ± 4.5e+03 Hz");
  CHECK(value_text(1.32, 0, "V") == "1.32 V");
  CHECK(value_text(0, 0, "V") == "0 V");
  CHECK(value_text(1.0, HUGE_VAL, "V") == "1 V");
}

TEST_CASE("words: limits and judgements", "[report]") {
  CHECK(limit_text({1.08, 1.32}, "V") == "1.08 V to 1.32 V");
  CHECK(limit_text({1.08, std::nullopt}, "V") == "at least 1.08 V");
  CHECK(limit_text({std::nullopt, 0.005}, "V") == "at most 5 mV");
  CHECK(limit_text({0.9999, 1.0001}, "1") == "0.9999 to 1.0001");
  CHECK(limit_text({}, "V").empty());
  CHECK(judgement_text(Judgement::undecided) == "undecided");
  CHECK(judgement_text(std::nullopt) == "not judged");
}

TEST_CASE("words: the end of a run is a sentence for each way to end", "[report]") {
  CHECK(end_text(judged(1.2, Judgement::pass, {1.08, 1.32})) ==
        "Finished, every limit is met: level is 1.200 V ± 0.020 V, inside 1.08 V to 1.32 V.");
  CHECK(end_text(judged(1.45, Judgement::fail, {1.08, 1.32})) ==
        "Finished, a limit is not met: level is 1.450 V ± 0.020 V, above the limit of 1.32 V.");
  CHECK(end_text(judged(1.00, Judgement::fail, {1.08, 1.32})) ==
        "Finished, a limit is not met: level is 1.000 V ± 0.020 V, below the limit of 1.08 V.");
  CHECK(end_text(judged(1.31, Judgement::undecided, {1.08, 1.32})) ==
        "Finished, undecided: level is 1.310 V ± 0.020 V, inside 1.08 V to 1.32 V, but too near it to be sure.");
  auto bobbing = judged(1.2, Judgement::undecided, {1.08, 1.32});
  bobbing.readings[0].notes = {"40 of 104 kept"};
  CHECK(end_text(bobbing) ==
        "Finished, undecided: level is 1.200 V ± 0.020 V, inside 1.08 V to 1.32 V, but it was not settled enough to "
        "judge (40 of 104 kept).");
  record::RunRecord nothing;
  nothing.summary.ended = "finished";
  CHECK(end_text(nothing) == "Finished; nothing was judged.");
  CHECK(end_text(stored({.broken = true})) ==
        "Stopped at step 3 \"capture: rf\": no answer to *OPC? within 2.00 s; 64 waveforms kept. The unit is not "
        "judged. Try: is the disc still turning? does the trigger level lie inside the signal?");
  CHECK_THAT(end_text(stored({.closed = false})), Catch::StartsWith("Not closed: the program ended"));
}

TEST_CASE("words: more readings than a sentence can bear are counted", "[report]") {
  auto run = judged(1.45, Judgement::fail, {1.08, 1.32});
  run.readings.resize(5, run.readings[0]);
  CHECK_THAT(end_text(run), Catch::EndsWith("; and 3 more."));
}

TEST_CASE("words: a place is named as the step was written", "[report]") {
  CHECK(place_text({"steps", 3, "capture", "capture: rf", 28, 5}) == "step 3 \"capture: rf\"");
  CHECK(place_text({"", 0, "run", "the beginning", 0, 0}) == "the beginning");
  CHECK(place_text({"closing", 0, "make safe", "scope", 0, 0}) == "make safe \"scope\"");
  CHECK(place_text({"opening", 1, "set up", "set up: rf", 16, 5}) == "step 1 of the opening \"set up: rf\"");
}

TEST_CASE("words: what was not kept is counted by its reason", "[report]") {
  CHECK(kept_texts(stored({})) == std::vector<std::string>{"64 of 71 captures of pressed kept (not kept: focus 7)"});
  CHECK(kept_texts(stored({.captures = 5})) == std::vector<std::string>{"5 of 5 captures of pressed kept"});
}

TEST_CASE("words: a calibration is due or overdue on the day of the run, not on today's", "[report]") {
  using namespace std::chrono;
  const base::UtcTime day = sys_days(year(2030) / June / 30) + 23h;
  event::InstrumentUsed scope;
  CHECK(calibration_text(scope, day) == "no date given");
  scope.calibration_due = "2030-06-30";
  CHECK(calibration_text(scope, day) == "due 2030-06-30");
  CHECK(calibration_text(scope, day + 1h) == "overdue since 2030-06-30");
  CHECK(time_text(day) == "2030-06-30 23:00 UTC");
}

TEST_CASE("words: when a bench was proven, and why it is not", "[report]") {
  using event::BenchProof;
  using metrology::Judgement;
  const std::string at = "2030-01-05T09:30:00.000Z";
  CHECK(report::proof_text(std::nullopt) == "");
  CHECK(report::proof_text(BenchProof{}) == "bench not proven: it never was");
  CHECK(report::proof_text(BenchProof{"2030-01-05-2", at, Judgement::pass, false}) ==
        "bench proven at 2030-01-05 09:30 UTC (run 2030-01-05-2)");
  CHECK(report::proof_text(BenchProof{"2030-01-05-2", at, Judgement::pass, true}) ==
        "bench not proven lately: proven at 2030-01-05 09:30 UTC (run 2030-01-05-2), longer ago than its bench file "
        "allows");
  CHECK(report::proof_text(BenchProof{"2030-01-05-2", at, Judgement::fail, false}) ==
        "bench not proven: its proof at 2030-01-05 09:30 UTC (run 2030-01-05-2) came out fail");
  CHECK(report::is_proven(BenchProof{"r", at, Judgement::pass, false}));
  CHECK_FALSE(report::is_proven(BenchProof{"r", at, Judgement::pass, true}));
  CHECK_FALSE(report::is_proven(BenchProof{"r", at, Judgement::undecided, false}));
  CHECK(report::proved_text({{}, "self-test", "scope", Judgement::fail, "it reports 7"}) ==
        "self-test of scope: it reports 7 (fail)");
}
