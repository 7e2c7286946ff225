// SPDX-License-Identifier: Apache-2.0
#include <fmt/format.h>

#include <cmath>

#include "core/bench/bench_file.hpp"
#include "core/metrology/observations.hpp"
#include "core/metrology/type_b.hpp"
#include "core/sequence/measure/chain.hpp"
#include "core/sequence/measure/from_captures.hpp"
#include "core/sequence/measure/ready.hpp"
#include "core/signal/square_wave.hpp"

namespace eyelevel::sequence {

namespace {

// What a sample clock may be off where the bench file does not say.
constexpr double usual_clock = 100e-6;

signal::SquareWave wave_of(const AveragedWaveform& average) {
  if (average.is_clipped)
    throw base::Error(
        base::ErrorCode::wrong_wiring,
        fmt::format("'{}' reaches beyond the screen, so that nothing can be said of its tops", average.name),
        "look at the switch on the probe, or set up a larger screen");
  return signal::square_wave_of(average.mean.view());
}

metrology::Reading reading_of(const AveragedWaveform& average, std::string measure, std::string unit) {
  metrology::Reading reading;
  reading.name = measure + " of " + average.name;
  reading.measure = std::move(measure);
  reading.unit = std::move(unit);
  reading.of = average.signal.name;
  reading.inputs = {average.name};
  reading.count = average.count;
  reading.from_s = average.from_s;
  reading.until_s = average.until_s;
  return reading;
}

// Noise and conversion of the difference of two means, as a share of the height.
void add_noise(std::vector<metrology::Contribution>& budget, const AveragedWaveform& average, double height_v,
               std::size_t samples, double sensitivity) {
  const double n = static_cast<double>(average.count);
  budget.push_back(
      {.source = "noise of the average " + average.name,
       .type = 'A',
       .shape = metrology::Shape::normal,
       .effect = sensitivity * std::sqrt(2 / (n * static_cast<double>(samples))) * average.noise_v / height_v,
       .degrees_of_freedom = std::max(1.0, n - 1)});
  budget.push_back({.source = "conversion of the average " + average.name,
                    .type = 'B',
                    .shape = metrology::Shape::normal,
                    .effect = sensitivity * std::sqrt(2.0) * conversion_v(average.step_v, average.noise_v) / height_v});
}

// The factor that the probe really has: the one that is set, times the calibrator's height over the height found. Its
// divider is what is looked for, so it is no contribution; loading a calibrator (some ohms) is nothing.
task<metrology::Reading> probe_factor(RunContext& context, const Step&, const MeasureSetting& setting) {
  const AveragedWaveform& average = context.waveform(setting.operand);
  const SignalPlace& signal = average.signal;
  const bench::InstrumentEntry* entry = context.bench().find(signal.role);
  if (!entry || !entry->calibrator)
    throw LeftOut{fmt::format("the bench file does not say how high the square wave of {} is", signal.role)};
  const signal::SquareWave wave = wave_of(average);
  const SignalSetUp how = context.set_up_of(signal.name);
  const double set = how.channel ? how.channel->probe_factor : 1;
  const double value = set * entry->calibrator->height_v / wave.height_v();
  metrology::Reading reading = reading_of(average, "probe factor", "1");
  std::vector<metrology::Contribution> budget;
  add_noise(budget, average, wave.height_v(), wave.settled_samples, value);
  budget.push_back(
      metrology::rectangular("gain of " + chain_of(context, signal).instrument, value * entry->gain_accuracy));
  budget.push_back(metrology::rectangular("height of the square wave of " + signal.role,
                                          value * entry->calibrator->height_accuracy));
  reading.notes.push_back(fmt::format("a square wave of {:g} V stands at {:.4g} V with x{:g} set",
                                      entry->calibrator->height_v, wave.height_v(), set));
  complete(reading, value, budget);
  co_return reading;
}

task<metrology::Reading> top_flatness(RunContext& context, const Step&, const MeasureSetting& setting) {
  const AveragedWaveform& average = context.waveform(setting.operand);
  const signal::SquareWave wave = wave_of(average);
  metrology::Reading reading = reading_of(average, "top flatness", "1");
  std::vector<metrology::Contribution> budget;
  add_noise(budget, average, wave.height_v(), wave.early_samples, 1);
  reading.notes.push_back(
      fmt::format("the tops begin {:.2g} % {} where they end; the square wave itself is taken as flat",
                  std::abs(wave.early_share) * 100, wave.early_share > 0 ? "above" : "below"));
  complete(reading, wave.early_share, budget);
  co_return reading;
}

task<metrology::Reading> of_waveform(RunContext& context, const std::string& name) {
  const AveragedWaveform& average = context.waveform(name);
  const signal::SquareWave wave = signal::square_wave_of(average.mean.view());
  if (!(wave.frequency_hz > 0))
    throw base::Error(base::ErrorCode::bad_answer, fmt::format("there is no whole period in '{}'", name),
                      "average longer records");
  metrology::Reading reading = reading_of(average, "frequency", "Hz");
  const bench::InstrumentEntry* entry = context.bench().find(average.signal.role);
  double clock = entry ? entry->clock_accuracy : 0;
  if (!(clock > 0)) {
    clock = usual_clock;
    reading.notes.push_back(fmt::format("the bench file does not state the clock of {}: taken as ± {:g} ppm",
                                        average.signal.role, usual_clock * 1e6));
  }
  // An edge is faster than a sample: where it lies between two of them is not known.
  const double edge_s = std::sqrt(2.0 / 12) / average.mean.rate_hz;
  std::vector<metrology::Contribution> budget;
  budget.push_back(metrology::rectangular("sample clock of " + average.signal.role, wave.frequency_hz * clock));
  budget.push_back({.source = "edges between samples of " + name,
                    .type = 'B',
                    .shape = metrology::Shape::triangular,
                    .effect = wave.frequency_hz * edge_s / wave.span_s});
  complete(reading, wave.frequency_hz, budget);
  co_return reading;
}

constexpr int counts = 5;

task<metrology::Reading> of_counter(RunContext& context, const SignalPlace& signal) {
  bench::Counter& counter = context.counter(signal.role);
  const bench::InstrumentEntry* entry = context.bench().find(signal.role);
  metrology::Reading reading = begin_reading(context, signal, "frequency", "Hz", counts);
  std::vector<double> values;
  for (int i = 0; i < counts; ++i) {
    context.progress() = fmt::format("{} of {} counts of {} came", i, counts, signal.name);
    values.push_back(co_await counter.read_frequency(context.call_limit()));
  }
  reading.until_s = context.now_s();
  const auto mean = metrology::mean_of_independent(values);
  std::vector<metrology::Contribution> budget{
      mean.contribution(fmt::format("counts of {} at {:.3f} s", signal.name, reading.from_s))};
  budget.push_back(
      metrology::rectangular("time base of " + signal.role, mean.value * (entry ? entry->frequency_accuracy : 0)));
  complete(reading, mean.value, budget);
  co_return reading;
}

// What a function generator was set to, and stated when it was read back: with its clock it is a second opinion on that
// of an oscilloscope.
metrology::Reading of_generator(RunContext& context, const SignalPlace& signal) {
  context.function_generator(signal.role);  // left out without it
  const SignalSetUp how = context.set_up_of(signal.name);
  if (!how.given) throw LeftOut{fmt::format("'{}' was not set up", signal.name)};
  const double value_hz = how.given->frequency_hz;
  const bench::InstrumentEntry* entry = context.bench().find(signal.role);
  metrology::Reading reading = begin_reading(context, signal, "frequency", "Hz", 1);
  reading.until_s = reading.from_s;
  reading.notes.emplace_back("what it was set to and read back, not measured");
  complete(reading, value_hz,
           {metrology::rectangular("clock of " + signal.role, value_hz * (entry ? entry->frequency_accuracy : 0)),
            metrology::rectangular("frequency of " + signal.role + " as read back",
                                   bench::frequency_taken_relative * value_hz + bench::frequency_taken_hz)});
  return reading;
}

task<metrology::Reading> frequency(RunContext& context, const Step&, const MeasureSetting& setting) {
  const SignalPlace* signal = context.sequence().signal(setting.operand);
  if (!signal) co_return co_await of_waveform(context, setting.operand);
  if (signal->kind == "function generator") co_return of_generator(context, *signal);
  co_return co_await of_counter(context, *signal);
}

}  // namespace

void register_square_wave(Measures& measures) {
  measures.add({.name = "probe factor",
                .about = "the factor that a probe really has, from the averaged square wave of its oscilloscope",
                .parameters = {},
                .example = "- measure: probe factor of square\n  name it: factor\n"},
               {{NameKind::waveform}, {}, quantity::ratio, probe_factor});
  measures.add({.name = "top flatness",
                .about = "how far the tops of an averaged square wave begin above (or below) where they end",
                .parameters = {},
                .example = "- measure: top flatness of square\n  name it: flatness\n"},
               {{NameKind::waveform}, {}, quantity::ratio, top_flatness});
  measures.add(
      {.name = "frequency",
       .about = "frequency of an averaged square wave, of a counter's signal, or as a function generator was set",
       .parameters = {},
       .example = "- measure: frequency of square\n  name it: by_scope\n"},
      {{NameKind::waveform}, {"counter", "function generator"}, quantity::frequency, frequency});
}

}  // namespace eyelevel::sequence
