// SPDX-License-Identifier: Apache-2.0
#include "core/report/run_json.hpp"

#include <catch2/catch.hpp>

#include "core/record/journal/json_text.hpp"
#include "tests/core/report/eye_run.hpp"

using namespace eyelevel;
using record::Layout;
using record::text_of;

namespace {

record::RunRecord stored(const test::EyeRun& wish) {
  const auto store = record::open_memory_store();
  return record::read_run(*store, test::store_eye_run(*store, wish));
}

}  // namespace

// The keys are the fixed contract of `run --json`; `tried` is an addition.
TEST_CASE("JSON of a unit: a finished run, key by key", "[report]") {
  CHECK(text_of(report::unit_json(stored({.captures = 5})), Layout::indented) == R"({
  "serial": "LF2-00417",
  "model": "LF-2",
  "run": "2030-01-07-1",
  "ended": "finished",
  "judgement": "pass",
  "bench_proof": {
    "proven": true,
    "run": "2030-01-05-2",
    "at_utc": "2030-01-05T09:30:00.000Z",
    "judgement": "pass",
    "old": false
  },
  "proofs": [],
  "readings": [
    {
      "name": "level_pressed",
      "value": 1.2034,
      "unit": "V",
      "standard_uncertainty": 0.0105,
      "expanded_uncertainty": 0.0206,
      "coverage_probability": 0.95,
      "count": 5,
      "at_least": 1.08,
      "at_most": 1.32,
      "judgement": "pass",
      "tried": 5
    },
    {
      "name": "rise_d_c",
      "value": 0.0412,
      "unit": "V",
      "standard_uncertainty": 0.0009,
      "expanded_uncertainty": 0.0018,
      "coverage_probability": 0.95,
      "count": 5,
      "at_least": null,
      "at_most": null,
      "judgement": null,
      "tried": null
    }
  ],
  "answers": [],
  "enclosures": [],
  "goes_on_from": null,
  "corrections": [],
  "thinned_out": null,
  "findings": [],
  "error": null
})");
}

TEST_CASE("JSON of a unit: a stopped run says why, and judges nothing", "[report]") {
  CHECK(text_of(report::unit_json(stored({.captures = 1, .broken = true}))) ==
        R"j({"serial":"LF2-00417","model":"LF-2","run":"2030-01-07-1","ended":"stopped","judgement":null,)j"
        R"j("bench_proof":{"proven":true,"run":"2030-01-05-2","at_utc":"2030-01-05T09:30:00.000Z",)j"
        R"j("judgement":"pass","old":false},"proofs":[],"readings":[],"answers":[],"enclosures":[],)j"
        R"j("goes_on_from":null,"corrections":[],"thinned_out":null,"findings":[],)j"
        R"j("error":{"code":"time_out","where":"pickup-level.yaml:28:5: )j"
        R"j(step \"capture: rf\", scope (TCPIP0::127.0.0.1::5025::SOCKET)",)j"
        R"j("message":"no answer to *OPC? within 2.00 s; 64 waveforms kept",)j"
        R"j("advice":"is the disc still turning? does the trigger level lie inside the signal?"}})j");
}

TEST_CASE("JSON of a unit: findings with their belief, and null where nothing is claimed", "[report]") {
  auto run = stored({.captures = 1});
  run.findings = {{"don't know", "no cause is believed to 60 %", {}}, {"lens dirty", "I3/I11 is low", 0.41}};
  CHECK(text_of(report::unit_json(run).at("findings")) ==
        R"j([{"cause":"don't know","because":"no cause is believed to 60 %","belief":null},)j"
        R"j({"cause":"lens dirty","because":"I3/I11 is low","belief":0.41}])j");
}

TEST_CASE("JSON of a unit: a run that is not closed has no end", "[report]") {
  const auto unit = report::unit_json(stored({.captures = 2, .closed = false}));
  CHECK(unit.at("ended").is_null());
  CHECK(unit.at("judgement").is_null());
}

TEST_CASE("JSON of the list of runs: one line for each", "[report]") {
  CHECK(text_of(report::summary_json(stored({.captures = 0}).summary)) ==
        R"({"run":"2030-01-07-1","begun_utc":"2030-01-07T08:00:00.000Z","closed_utc":"2030-01-07T08:00:58.200Z",)"
        R"("sequence":"pickup-level","serial":"LF2-00417","model":"LF-2","bench":"bench 1","ended":"finished",)"
        R"("judgement":null,"operator":null,"program":"eyelevel 0.1.0"})");
}

TEST_CASE("run json: the bench's proof and its items, null where nobody looked", "[report]") {
  record::RunRecord run;
  CHECK(report::unit_json(run).at("bench_proof").is_null());
  run.begun.proof = event::BenchProof{"r-2", "2030-01-05T09:30:00.000Z", metrology::Judgement::pass, false};
  run.proofs = {{{}, "calibration", "scope", std::nullopt, "not stated"}};
  const auto unit = report::unit_json(run);
  CHECK(unit.at("bench_proof").at("proven").as_bool());
  CHECK(unit.at("bench_proof").at("run").as_string() == "r-2");
  CHECK(unit.at("proofs").at(0).at("item").as_string() == "calibration");
  CHECK(unit.at("proofs").at(0).at("judgement").is_null());
}
