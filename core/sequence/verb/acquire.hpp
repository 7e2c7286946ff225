// SPDX-License-Identifier: Apache-2.0
// One capture of a signal for a verb: at the rate the sequence needs, with the time in which it was taken.
#pragma once

#include "core/disc/analysis.hpp"
#include "core/sequence/runner/context.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::sequence {

// Enough for the eye at 1x and 2x: 3T at 1x lies at 0.72 MHz (ECMA-130 clause 19; sampled 4.6 times a channel bit).
inline constexpr double usual_rate_hz = 20e6;

struct Acquired {
  std::shared_ptr<const signal::Waveform> waveform;
  double from_s = 0;  // on the Timeline, of the first and last sample
  double until_s = 0;
};

// What the sequence demands of the signal's oscilloscope, or usual_rate_hz.
double rate_hz(RunContext& context, const SignalPlace& signal);
// At that rate, or at `rate` where that is enough. Throws base::Error of the instrument, or bad_answer when the record
// is empty.
task<Acquired> acquire(RunContext& context, const SignalPlace& signal, double duration_s,
                       std::optional<bench::Trigger> trigger = {}, std::optional<double> rate = {});
// Levels, clock and eye measures only.
disc::Analysis analyse_eye(const RunContext& context, const SignalPlace& signal, const signal::Waveform& waveform);

}  // namespace eyelevel::sequence
