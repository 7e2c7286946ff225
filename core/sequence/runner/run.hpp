// SPDX-License-Identifier: Apache-2.0
// Walks a checked sequence once: opens the instruments, then opening, steps and closing, where closing runs whatever
// happened before. Knows neither YAML nor SCPI. Journal first: listeners are told of an event when it is in the record.
// Cancelling the coroutine (terminal cancellation) stops the run: the step under way ends, closing runs and cannot be
// cancelled, and run() returns a result with ended "stopped". It throws only what is our own defect before the begin.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/bench/instrument.hpp"
#include "core/bench/operator.hpp"
#include "core/event/event.hpp"
#include "core/metrology/reading.hpp"
#include "core/sequence/language/sequence.hpp"

namespace eyelevel::bench {
struct BenchFile;
struct InstrumentEntry;
struct ModelSheet;
}  // namespace eyelevel::bench

namespace eyelevel::sequence {

class RunControl;

// What the program hands in. References must outlive the run.
struct RunSetting {
  base::Timeline& timeline;
  const bench::BenchFile& bench;
  const bench::ModelSheet* model = nullptr;  // empty: the run says what it took instead
  // Opens the instrument of a bench entry as its kind. Throws base::Error when it cannot.
  std::function<task<std::unique_ptr<bench::Instrument>>(const bench::InstrumentEntry&)> open;
  bench::Operator& operator_;
  std::string run;                                // its id in the record
  std::string serial;                             // of the unit; may be empty
  std::uint64_t seed = 0;                         // of the spacing of captures
  std::optional<std::uint64_t> rehearsal_seed{};  // told in the record: with the unit's number it repeats the run
  std::optional<event::BenchProof> proof{};       // what the record knows of the bench; empty: nobody looked
  RunControl* control = nullptr;
  // Of a run of the same sequence that was broken off, and where it is gone on with.
  std::string goes_on_from{};
  std::optional<event::Reached> reached{};
};

struct RunResult {
  std::string run;
  std::string ended;                              // "finished" or "stopped"
  std::optional<metrology::Judgement> judgement;  // empty when nothing was judged, or the run was stopped
  std::vector<metrology::Reading> readings;       // the named ones, in order, with limit and judgement
  std::vector<event::Proved> proofs;              // items of a bench proof that are no readings
  std::optional<base::ErrorRecord> error;         // why it was stopped; the first one
  std::vector<event::InstrumentUsed> instruments;
  double begun_s = 0;  // on the Timeline
  double closed_s = 0;
};

task<RunResult> run(const Sequence& sequence, RunSetting setting, event::Journal& journal,
                    std::vector<event::Listener*> listeners = {});

}  // namespace eyelevel::sequence
