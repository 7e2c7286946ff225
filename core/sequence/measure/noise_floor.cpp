// SPDX-License-Identifier: Apache-2.0
#include <fmt/format.h>

#include <cmath>

#include "core/bench/bench_file.hpp"
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
  metrology::Reading reading = begin_reading(context, signal, "noise floor", "V", records);
  std::vector<double> sds;
  for (int i = 1; i <= records; ++i) {
    const Acquired got = co_await acquire(context, signal, each_s);
    if (i == 1) reading.from_s = got.from_s;
    reading.until_s = got.until_s;
    sds.push_back(signal::summarise(got.waveform->view()).sd_v);
    context.tell_seen(event::Captured{step.place, reading.name, signal.name, i, got.waveform, {}});
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

// The same as a share of what the bench file states.
task<metrology::Reading> noise_share(RunContext& context, const Step& step, const MeasureSetting& setting) {
  const SignalPlace& signal = *context.sequence().signal(setting.operand);
  const bench::InstrumentEntry* entry = context.bench().find(signal.role);
  const double stated_v = entry ? entry->noise_v : 0;
  if (!(stated_v > 0)) throw LeftOut{fmt::format("the bench file does not say how much noise {} has", signal.role)};
  metrology::Reading reading = co_await noise_floor(context, step, setting);
  reading.name = "noise share of " + signal.name;
  reading.measure = "noise share";
  reading.unit = "1";
  reading.notes.push_back(
      fmt::format("{:.3g} mV r.m.s. of {:.3g} mV that the bench file states", reading.value * 1e3, stated_v * 1e3));
  for (metrology::Contribution& one : reading.contributions) one.effect /= stated_v;
  const auto budget = std::move(reading.contributions);
  complete(reading, reading.value / stated_v, budget);
  co_return reading;
}

}  // namespace

void register_noise_floor(Measures& measures) {
  measures.add({.name = "noise floor",
                .about = "what an oscilloscope shows of a quiet input, as volts r.m.s. at the probe tip",
                .parameters = {},
                .example = "- measure: noise floor of rf\n  within: 10 s\n  name it: noise\n"},
               {{}, {"oscilloscope"}, quantity::voltage, noise_floor});
  measures.add({.name = "noise share",
                .about = "the noise floor of a quiet input as a share of what the bench file states",
                .parameters = {},
                .example = "- measure: noise share of rf\n  within: 10 s\n  name it: noise_share\n"},
               {{}, {"oscilloscope"}, quantity::ratio, noise_share});
}

}  // namespace eyelevel::sequence
