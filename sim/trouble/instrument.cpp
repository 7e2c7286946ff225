// SPDX-License-Identifier: Apache-2.0
// Troubles of oscilloscope and multimeter as instruments: what real ones do to their users, each a misbehaviour of the
// device.
#include <utility>

#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {
namespace {

using base::ErrorCode;
using enum Demand::Ending;
using Apply = std::function<void(UnitMake&, base::Random&)>;

// Where a fault that is to strike somewhere strikes: from the first query to the middle of the captures.
constexpr int queries_to_the_captures = 60;

Apply of_kind(std::string kind, Fault fault) {
  return [kind = std::move(kind), fault = std::move(fault)](UnitMake& make, base::Random& random) {
    Fault here = fault;
    if (here.from_query == 0) here.from_query = 1 + static_cast<int>(random.below(queries_to_the_captures));
    if (auto* instrument = make.instrument_of_kind(kind)) instrument->faults.push_back(here);
  };
}
Apply scope(Fault fault) { return of_kind("oscilloscope", std::move(fault)); }

// After it was greeted: what is lost before is not there at all.
void drops_once(UnitMake& make, base::Random& random) {
  const Fault fault{
      .kind = Misbehaviour::close_in_answer, .from_query = 10 + static_cast<int>(random.below(50)), .queries = 1};
  if (auto* scope = make.instrument_of_kind("oscilloscope")) scope->faults.push_back(fault);
}

void switched_off(UnitMake& make, base::Random&) {
  if (auto* scope = make.instrument_of_kind("oscilloscope")) scope->absent = true;
}

Fault knob(std::string command) {
  return {.kind = Misbehaviour::knob_turned, .from_query = 0, .queries = 1, .header = std::move(command)};
}

// It breaks off its conversation, or answers what means nothing.
void add_talking(Troubles& troubles) {
  add(troubles,
      {
          {"scope silent",
           "the oscilloscope stops answering in the middle of the run",
           "that it gave no answer",
           {"no answer", "no complete answer"},
           {stopped, {ErrorCode::time_out}},
           scope({.kind = Misbehaviour::silent, .from_query = 0})},
          {"scope late",
           "the oscilloscope answers every query 30 s late",
           "that it gave no answer in time",
           {"no answer", "no complete answer"},
           {stopped, {ErrorCode::time_out}},
           scope({.kind = Misbehaviour::late, .from_query = 0, .delay_s = 30})},
          {"scope garbage",
           "the oscilloscope answers bytes that mean nothing",
           "what it answered",
           {"\\x01"},
           {stopped,
            {ErrorCode::bad_answer, ErrorCode::setting_not_taken, ErrorCode::instrument_error, ErrorCode::time_out}},
           scope({.kind = Misbehaviour::garbage, .from_query = 0})},
          {"scope drops the line",
           "the connection closes in the middle of an answer",
           "that the connection was lost",
           {"closed", "lost"},
           {stopped, {ErrorCode::connection_lost}},
           scope({.kind = Misbehaviour::close_in_answer, .from_query = 0})},
          {"scope drops the line once",
           "the connection closes once in the middle of an answer, and can be opened again",
           "that it was opened again",
           {"connection lost"},
           {by_truth, {}},
           drops_once},
          {"scope stops in its answer",
           "the oscilloscope sends half of an answer and then nothing",
           "that no complete answer came",
           {"no complete answer", "no answer"},
           {stopped, {ErrorCode::time_out}},
           scope({.kind = Misbehaviour::stops_within_answer, .from_query = 0})},
          {"scope off",
           "the oscilloscope is switched off: nobody answers at its resource",
           "that nobody is there",
           {"scope"},
           {stopped, {ErrorCode::no_connection}},
           switched_off},
          {"block too short",
           "a waveform block announces more bytes than come",
           "that the block is too short",
           {"block", "no complete answer"},
           {stopped, {ErrorCode::time_out, ErrorCode::bad_answer, ErrorCode::connection_lost}},
           scope({.kind = Misbehaviour::block_too_short})},
          {"block too long",
           "a waveform block announces fewer bytes than come",
           "that the block is too long",
           {"block", "cannot be read"},
           {stopped, {ErrorCode::bad_answer}},
           scope({.kind = Misbehaviour::block_too_long})},
          {"not a number",
           "a waveform holds a value that is not a number",
           "that a value is no number",
           {"number"},
           {stopped, {ErrorCode::bad_answer}},
           scope({.kind = Misbehaviour::not_a_number})},
          {"error in queue",
           "the oscilloscope reports a hardware error of its own",
           "the error",
           {"-240"},
           {stopped, {ErrorCode::instrument_error}},
           scope({.kind = Misbehaviour::error_in_queue, .from_query = 0})},
      });
}  // NOLINT(clang-analyzer-cplusplus.NewDeleteLeaks): each std::function of a row owns its lambda

// It is not set as it was asked.
void add_settings(Troubles& troubles) {
  const Demand not_taken{stopped, {ErrorCode::setting_not_taken}};
  // What is measured of it may be wrong, and then does not pass.
  const Demand turned{true_pass, {}};
  add(troubles, {
                    {"range not taken",
                     "the oscilloscope accepts the range and does not set it",
                     "that the screen is another",
                     {"screen"},
                     not_taken,
                     scope({.kind = Misbehaviour::setting_not_taken, .header = "SENS:VOLT1:RANG:PTP"})},
                    {"probe factor not taken",
                     "the oscilloscope accepts the probe factor and does not set it",
                     "that the probe factor is another",
                     {"probe"},
                     {stopped, {ErrorCode::setting_not_taken, ErrorCode::wrong_wiring}},
                     scope({.kind = Misbehaviour::setting_not_taken, .header = "INP1:ATT"})},
                    {"memory not taken",
                     "the oscilloscope accepts the length of a record and keeps its own",
                     "that the number of points is another",
                     {"memory"},
                     not_taken,
                     scope({.kind = Misbehaviour::setting_not_taken, .header = "SENS:SWE:POIN"})},
                    {"meter range not taken",
                     "the multimeter accepts the range and does not set it",
                     "that the range is another",
                     {"range"},
                     {by_truth, {ErrorCode::setting_not_taken}},
                     of_kind("multimeter", {.kind = Misbehaviour::setting_not_taken, .header = "SENS:VOLT:RANG"})},
                    {"coupling knob turned",
                     "somebody sets the oscilloscope to a.c. in the middle of the run",
                     "by a d.c. reading that lies elsewhere; the level of an eye holds",
                     {"agreement", "stale", "a.c."},
                     turned,
                     scope(knob("INP1:COUP AC"))},
                    {"range knob turned",
                     "somebody turns the oscilloscope's range to a tenth in the middle of the run",
                     "that captures are clipped",
                     {"clipped", "beyond the screen", "stale"},
                     turned,
                     scope(knob("SENS:VOLT1:RANG:PTP 0.3"))},
                    {"probe knob turned",
                     "somebody tells the oscilloscope in the middle of the run that its probe is an x1",
                     "that the probe factor is another",
                     {"stale", "probe", "factor"},
                     turned,
                     scope(knob("INP1:ATT 1"))},
                    {"trigger knob turned",
                     "somebody sets the oscilloscope to wait for an external trigger",
                     "that no capture came",
                     {"no answer", "trigger", "did not come about"},
                     turned,
                     scope(knob("TRIG:SOUR EXT"))},
                });
}  // NOLINT(clang-analyzer-cplusplus.NewDeleteLeaks): each std::function of a row owns its lambda

}  // namespace

void register_instrument_troubles(Troubles& troubles) {
  add_talking(troubles);
  add_settings(troubles);
}

}  // namespace eyelevel::sim
