// SPDX-License-Identifier: Apache-2.0
// Troubles of the oscilloscope as an instrument: what real ones do to their users, each a misbehaviour of the device.
#include <utility>

#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {
namespace {

using base::ErrorCode;

struct Row {
  const char* name;
  const char* about;
  Fault fault;  // from_query 0: drawn, so that it strikes somewhere in the run
  std::vector<ErrorCode> codes;
};

std::vector<Row> rows() {
  return {
      {"scope silent",
       "the oscilloscope stops answering in the middle of the run",
       {.kind = Misbehaviour::silent, .from_query = 0},
       {ErrorCode::time_out}},
      {"scope late",
       "the oscilloscope answers every query 30 s late",
       {.kind = Misbehaviour::late, .from_query = 0, .delay_s = 30},
       {ErrorCode::time_out}},
      {"scope garbage",
       "the oscilloscope answers bytes that mean nothing",
       {.kind = Misbehaviour::garbage, .from_query = 0},
       {ErrorCode::bad_answer, ErrorCode::setting_not_taken, ErrorCode::instrument_error, ErrorCode::time_out}},
      {"scope drops the line",
       "the connection closes in the middle of an answer",
       {.kind = Misbehaviour::close_in_answer, .from_query = 0},
       {ErrorCode::connection_lost}},
      {"scope stops in its answer",
       "the oscilloscope sends half of an answer and then nothing",
       {.kind = Misbehaviour::stops_within_answer, .from_query = 0},
       {ErrorCode::time_out}},
      {"block too short",
       "a waveform block announces more bytes than come",
       {.kind = Misbehaviour::block_too_short},
       {ErrorCode::time_out, ErrorCode::bad_answer, ErrorCode::connection_lost}},
      {"block too long",
       "a waveform block announces fewer bytes than come",
       {.kind = Misbehaviour::block_too_long},
       {ErrorCode::bad_answer}},
      {"not a number",
       "a waveform holds a value that is not a number",
       {.kind = Misbehaviour::not_a_number},
       {ErrorCode::bad_answer}},
      {"error in queue",
       "the oscilloscope reports a hardware error of its own",
       {.kind = Misbehaviour::error_in_queue, .from_query = 0},
       {ErrorCode::instrument_error}},
      {"range not taken",
       "the oscilloscope accepts the range and does not set it",
       {.kind = Misbehaviour::setting_not_taken, .header = "SENS:VOLT1:RANG:PTP"},
       {ErrorCode::setting_not_taken}},
      {"probe factor not taken",
       "the oscilloscope accepts the probe factor and does not set it",
       {.kind = Misbehaviour::setting_not_taken, .header = "INP1:ATT"},
       {ErrorCode::setting_not_taken, ErrorCode::wrong_wiring}},
  };
}

}  // namespace

void register_instrument_troubles(Troubles& troubles) {
  for (const Row& row : rows())
    troubles.add({.name = row.name,
                  .about = row.about,
                  .parameters = {},
                  .example = std::string("eyelevel rehearse SEQUENCE --trouble '") + row.name + "'"},
                 {[fault = row.fault](UnitMake& make, base::Random& random) {
                    Fault here = fault;
                    // Somewhere from the first query to the middle of the captures.
                    if (here.from_query == 0) here.from_query = 1 + static_cast<int>(random.below(60));
                    if (auto* scope = make.instrument_of_kind("oscilloscope")) scope->faults.push_back(here);
                  },
                  {Demand::Ending::stopped, row.codes}});
  troubles.add({.name = "scope drops the line once",
                .about = "the connection closes once in the middle of an answer, and can be opened again",
                .parameters = {},
                .example = "eyelevel rehearse SEQUENCE --trouble 'scope drops the line once'"},
               {[](UnitMake& make, base::Random& random) {
                  // After it was greeted: what is lost before is not there at all.
                  const Fault fault{.kind = Misbehaviour::close_in_answer,
                                    .from_query = 10 + static_cast<int>(random.below(50)),
                                    .queries = 1};
                  if (auto* scope = make.instrument_of_kind("oscilloscope")) scope->faults.push_back(fault);
                },
                {Demand::Ending::by_truth, {}}});
  troubles.add({.name = "scope off",
                .about = "the oscilloscope is switched off: nobody answers at its resource",
                .parameters = {},
                .example = "eyelevel rehearse SEQUENCE --trouble 'scope off'"},
               {[](UnitMake& make, base::Random&) {
                  if (auto* scope = make.instrument_of_kind("oscilloscope")) scope->absent = true;
                },
                {Demand::Ending::stopped, {ErrorCode::no_connection}}});
}

// What no measurement of a unit would show, and a proof of the bench must.
void register_bench_troubles(Troubles& troubles) {
  troubles.add({.name = "self-test fails",
                .about = "the oscilloscope tests itself and finds a fault",
                .parameters = {},
                .example = "eyelevel rehearse sequences/ready/bench-proof.yaml --trouble 'self-test fails'"},
               {[](UnitMake& make, base::Random& random) {
                  if (auto* scope = make.instrument_of_kind("oscilloscope"))
                    scope->self_test = 1 + static_cast<int>(random.below(20));
                },
                {Demand::Ending::by_truth, {}, "self-test"}});
  troubles.add({.name = "calibration overdue",
                .about = "by the bench file the oscilloscope should have been calibrated a month ago",
                .parameters = {},
                .example = "eyelevel rehearse sequences/ready/bench-proof.yaml --trouble 'calibration overdue'"},
               {[](UnitMake& make, base::Random&) {
                  // Simulated time begins on 2030-01-07.
                  if (auto* scope = make.instrument_of_kind("oscilloscope")) scope->calibration_due = "2029-12-07";
                },
                {Demand::Ending::by_truth, {}, "calibration"}});
  troubles.add({.name = "clock off",
                .about = "the sample clock of the oscilloscope is 300 to 900 ppm off",
                .parameters = {},
                .example = "eyelevel rehearse sequences/ready/bench-proof.yaml --trouble 'clock off'"},
               {[](UnitMake& make, base::Random& random) {
                  if (auto* scope = make.instrument_of_kind("oscilloscope"))
                    scope->scope.clock_off = random.uniform(3e-4, 9e-4) * (random.chance(0.5) ? 1 : -1);
                },
                {Demand::Ending::by_truth, {}, "clock_ratio"}});
}

Troubles ready_troubles() {
  Troubles troubles("trouble");
  register_pickup_troubles(troubles);
  register_wiring_troubles(troubles);
  register_instrument_troubles(troubles);
  register_bench_troubles(troubles);
  return troubles;
}

}  // namespace eyelevel::sim
