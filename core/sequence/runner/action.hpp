// SPDX-License-Identifier: Apache-2.0
// What a verb does when its step is reached, and what it may leave behind. The contract for whoever adds a verb:
//  - run() is called once for each time the step is reached; the runner sees to `within` (it cancels the wait under
//  way),
//    to naming, to `must meet` and to `otherwise`; an action only does its own work and tells its own events.
//  - an action waits only through context.timeline() and the calls of instruments and operator; every wait must end
//  when
//    it is cancelled.
//  - what did not come about is thrown as base::Error; that its time ran out is the runner's to say: the action only
//    keeps context.progress() up to date, which goes into that message.
//  - an action is immutable and may be run by several runs at once.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/task.hpp"
#include "core/disc/analysis.hpp"
#include "core/metrology/reading.hpp"
#include "core/sequence/language/sequence.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::bench {
struct BenchFile;
struct ModelSheet;
struct Question;
}  // namespace eyelevel::bench
namespace eyelevel::yaml {
class Mistakes;
}

namespace eyelevel::sequence {

class RunContext;

struct KeptCapture {
  double from_s = 0;  // on the run's Timeline
  double until_s = 0;
  disc::Analysis analysis;
};

// How a series of captures went.
struct CaptureCounts {
  std::int64_t tried = 0;
  std::int64_t kept = 0;
  std::int64_t no_lock = 0;
  std::int64_t focus = 0;
  std::int64_t clipped = 0;

  // "64 of 71 kept; not kept: 5 focus, 2 no lock"
  std::string in_words() const;
};

// What `capture` leaves: the analyses of the kept waveforms; the waveforms themselves are in the journal only.
struct CaptureSet {
  std::string name;
  SignalPlace signal;
  std::vector<KeptCapture> kept;  // in order of time
  CaptureCounts counts;
  double step_v = 0;               // of the converter, at the probe tip
  bool too_many_rejected = false;  // nothing measured from it can pass
};

// What `average` of a triggered signal leaves.
struct AveragedWaveform {
  std::string name;
  SignalPlace signal;
  std::int64_t count = 0;
  signal::Waveform mean;
  double step_v = 0;
  double noise_v = 0;       // standard deviation of one sample about the mean waveform
  bool is_clipped = false;  // a part of it lies beyond the screen
  double from_s = 0, until_s = 0;
};

// What `if` comes to.
struct Decision {
  bool holds = false;
  std::string because;  // "level_before is 1.21 V, below 1.3 V"
};

// What the operator told, in its one form: "yes", "pressed", a code.
struct Told {
  std::string answer;
};

// What `finish` leaves: no further step of the sequence but those of its closing. Empty: judged by its readings alone.
struct Finish {
  std::optional<metrology::Judgement> judgement;
};

using Result = std::variant<std::monostate, CaptureSet, AveragedWaveform, metrology::Reading, Told, Decision, Finish>;

class Action {
 public:
  Action() = default;
  Action(const Action&) = delete;
  Action& operator=(const Action&) = delete;
  virtual ~Action() = default;

  virtual task<Result> run(RunContext& context, const Step& step) const = 0;
  // Holds the step against the bench it is to run on, before anything is touched; mistakes stand at the step's place.
  virtual void check_on_bench(const Step&, const bench::BenchFile&, yaml::Mistakes&) const {}
  // The same against the model sheet of the unit; null: nobody named one.
  virtual void check_on_model(const Step&, const bench::ModelSheet*, yaml::Mistakes&) const {}
  // Of one that gives a reading: what the bench alone leaves uncertain at a value, however often it is measured; empty
  // when nobody can tell.
  virtual std::vector<metrology::Contribution> least_budget(const bench::BenchFile&, double /*value*/) const {
    return {};
  }
  // What it is called when `within` ran out.
  virtual base::ErrorCode when_late() const { return base::ErrorCode::wait_ran_out; }
  virtual std::string advice_when_late() const {
    return "give it more time with `within`, or see why it takes so long";
  }

  // For whoever wants to know before it is done: about how long it takes when all goes well, in seconds; what the
  // operator is asked; and whether the player's laser is lit when it is done (empty: as before).
  virtual double likely_s() const { return quick_s; }
  virtual const bench::Question* asks() const { return nullptr; }
  virtual std::optional<bool> leaves_laser_lit() const { return std::nullopt; }

 protected:
  static constexpr double quick_s = 0.05;  // a few exchanges with an instrument
};

// Thrown by RunContext when a step asks for an instrument that only helps if there and is not, or for a result that an
// earlier step was to give and did not. Not an error: the step is left out, and the record says why.
struct LeftOut {
  std::string why;
};

}  // namespace eyelevel::sequence
