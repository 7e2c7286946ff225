// SPDX-License-Identifier: Apache-2.0
#include <fmt/format.h>

#include <cmath>

#include "core/metrology/observations.hpp"
#include "core/sequence/measure/chain.hpp"
#include "core/sequence/measure/from_captures.hpp"
#include "core/sequence/measure/ready.hpp"
#include "core/sequence/verb/acquire.hpp"
#include "core/signal/histogram.hpp"

namespace eyelevel::sequence {

namespace {

constexpr int records = 16;
constexpr double each_s = 1e-3;

// The root of the mean square of what is left of each record when its mean is taken away; the share of the converter's
// steps is in it. Whoever asks has seen to a quiet input.
task<metrology::Reading> noise_floor(RunContext& context, const Step& step, const MeasureSetting& setting) {
  const SignalPlace& signal = *context.sequence().signal(setting.operand);
  metrology::Reading reading;
  reading.name = "noise floor of " + signal.name;
  reading.measure = "noise floor";
  reading.unit = "V";
  reading.of = signal.name;
  reading.count = records;
  std::vector<double> sds;
  for (int i = 1; i <= records; ++i) {
    const Acquired got = co_await acquire(context, signal, each_s);
    if (i == 1) reading.from_s = got.from_s;
    reading.until_s = got.until_s;
    sds.push_back(signal::summarise(got.waveform->view()).sd_v);
    context.tell(event::Captured{step.place, reading.name, signal.name, i, got.waveform, {}});
    context.progress() = fmt::format("{} of {} records came", i, records);
  }
  const auto mean = metrology::mean_of_independent(sds);
  double squares = 0;
  for (const double sd : sds) squares += sd * sd;
  const double value = std::sqrt(squares / records);
  std::vector<metrology::Contribution> budget{
      mean.contribution(fmt::format("noise of {} at {:.3f} s", signal.name, reading.from_s))};
  const Chain chain = chain_of(context, signal);
  add_chain(budget, chain, value, Share::alternating);
  complete(reading, value, budget);
  co_return reading;
}

}  // namespace

void register_noise_floor(Measures& measures) {
  measures.add({.name = "noise floor",
                .about = "what an oscilloscope shows of a quiet input, as volts r.m.s. at the probe tip",
                .parameters = {},
                .example = "- measure: noise floor of rf\n  within: 10 s\n  name it: noise\n"},
               {{}, {"oscilloscope"}, quantity::voltage, noise_floor});
}

}  // namespace eyelevel::sequence
