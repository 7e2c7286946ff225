// SPDX-License-Identifier: Apache-2.0
#include <fmt/format.h>

#include <cmath>

#include "core/metrology/observations.hpp"
#include "core/metrology/statistics.hpp"
#include "core/metrology/turning.hpp"
#include "core/sequence/measure/chain.hpp"
#include "core/sequence/measure/from_captures.hpp"
#include "core/sequence/measure/ready.hpp"
#include "core/sequence/verb/acquire.hpp"
#include "core/signal/converter_step.hpp"
#include "core/signal/histogram.hpp"

namespace eyelevel::sequence {

namespace {

// Nearly thirty turns of the slowest disc (0.3 s): enough to tell its swing from the mean.
constexpr double usual_over_s = 8.0;
constexpr std::size_t readings_least = 16;
constexpr std::size_t readings_most = 1000;
// Readings as far apart as this or further; nearer ones only repeat one another.
constexpr double apart_s = 0.02;
// A slow meter pauses after each reading for up to as long as the reading took, so as not to keep step with the turn.
constexpr double pause_most_s = 0.3;

task<metrology::Reading> of_captures(RunContext& context, const std::string& name) {
  const CaptureSet& set = context.captures(name);
  metrology::Reading reading = reading_from(context, set, "d.c. level", "V");
  if (context.is_ac_coupled(set.signal.name))
    throw base::Error(base::ErrorCode::wrong_wiring,
                      fmt::format("'{}' is a.c. coupled, so that its d.c. level is lost", set.signal.name),
                      "set it up with `coupling: dc`");
  const auto values = value_per_capture(set, "a d.c. level", [](const disc::Analysis& a) { return a.level.mean_v; });
  const Chain chain = chain_of(context, set.signal);
  const auto mean = metrology::mean_of_independent(values);
  const double value = chain.unloaded(mean.value);
  std::vector<metrology::Contribution> budget{mean.contribution("d.c. level of the captures " + name)};
  add_chain(budget, chain, value, Share::direct);
  budget.push_back({.source = "conversion of the mean of " + name,
                    .type = 'B',
                    .shape = metrology::Shape::normal,
                    .effect = conversion_v(set.step_v, mean.sd)});
  reading.notes.insert(reading.notes.end(), chain.assumed.begin(), chain.assumed.end());
  complete(reading, value, budget);
  co_return reading;
}

// Readings taken while the player skipped: with the track lost the mean light jumps by a good part of the level, far
// beyond what ripple and noise do. Told by a robust spread; a steady signal may always move by the least share.
constexpr double spreads_most = 5;
constexpr double share_least = 1e-4;
constexpr double skipped_most = 1.0 / 3;

// Readings of a meter, each dated in the middle of the time it took.
struct Series {
  std::vector<double> times_s, values;
};

Series without_skips(const Series& taken) {
  const metrology::RobustLocation middle = metrology::robust_location(taken.values);
  const double most = std::max(spreads_most * middle.mad_scaled, share_least * std::abs(middle.median));
  Series kept;
  for (std::size_t i = 0; i < taken.values.size(); ++i) {
    if (std::abs(taken.values[i] - middle.median) > most) continue;
    kept.times_s.push_back(taken.times_s[i]);
    kept.values.push_back(taken.values[i]);
  }
  return kept;
}

task<Series> read_for(RunContext& context, const SignalPlace& signal, double over_s) {
  auto& meter = context.multimeter(signal.role);
  Series series;
  std::vector<double>& values = series.values;
  const base::Duration begin = context.timeline().now();
  const base::Duration over = base::from_seconds(over_s);
  base::Duration next = begin;
  while (values.size() < readings_least || (context.timeline().now() - begin < over && values.size() < readings_most)) {
    if (next > context.timeline().now()) co_await context.timeline().sleep_until(next);
    const double from_s = context.now_s();
    values.push_back(co_await meter.read_dc(context.call_limit()));
    const double took_s = context.now_s() - from_s;
    series.times_s.push_back(from_s + took_s / 2);
    next = context.timeline().now() +
           base::from_seconds(took_s < apart_s ? apart_s * context.random().uniform(0.8, 1.2) - took_s
                                               : std::min(took_s, pause_most_s) * context.random().uniform());
    context.progress() = fmt::format("{} readings of {} taken", values.size(), signal.name);
    if (!std::isfinite(values.back()))
      throw base::Error(base::ErrorCode::bad_answer, fmt::format("{} gave a reading that is no number", signal.role),
                        "is its range large enough?");
  }
  co_return series;
}

task<metrology::Reading> of_meter(RunContext& context, const SignalPlace& signal, const MeasureSetting& setting) {
  metrology::Reading reading = begin_reading(context, signal, "d.c. level", "V", 0);
  const auto taken = co_await read_for(context, signal, setting.over_s.value_or(usual_over_s));
  reading.until_s = context.now_s();
  // More than half of the readings lie about their median, so that something is left.
  const auto [times_s, values] = without_skips(taken);
  reading.count = std::ssize(values);
  reading.tried = std::ssize(taken.values);
  const Chain chain = chain_of(context, signal);
  const metrology::MeanOverTurns found = metrology::mean_over_turns(times_s, values);
  const double value = chain.unloaded(found.mean.value);
  // Each series has a source of its own: two series of one signal are not the same observations.
  std::vector<metrology::Contribution> budget{found.mean.contribution(
      fmt::format("readings of {} at {:.3f} s", signal.name, reading.from_s), chain.unloaded(1))};
  add_chain(budget, chain, value, Share::direct);
  reading.notes = chain.assumed;
  if (values.size() < taken.values.size())
    reading.notes.push_back(fmt::format("{} of {} readings kept; the others jumped, as when the player skips",
                                        values.size(), taken.values.size()));
  if (static_cast<double>(taken.values.size() - values.size()) >
      skipped_most * static_cast<double>(taken.values.size())) {
    reading.notes.push_back("too many readings were not kept: it cannot pass");
    context.cannot_pass(reading.name);
  }
  complete(reading, value, budget);
  co_return reading;
}

constexpr double scope_each_s = 1e-3;

// The same of an oscilloscope's signal: the mean of records spread over a little more than a turn of the slowest disc.
task<metrology::Reading> of_scope(RunContext& context, const Step& step, const SignalPlace& signal) {
  if (context.is_ac_coupled(signal.name))
    throw base::Error(base::ErrorCode::wrong_wiring,
                      fmt::format("'{}' is a.c. coupled, so that its d.c. level is lost", signal.name),
                      "set it up with `coupling: dc`");
  metrology::Reading reading =
      begin_reading(context, signal, "d.c. level", "V", static_cast<std::int64_t>(readings_least));
  std::vector<double> values;
  double step_v = 0, sd_v = 0;
  while (values.size() < readings_least) {
    const Acquired got = co_await acquire(context, signal, scope_each_s);
    const signal::Summary summary = signal::summarise(got.waveform->view());
    values.push_back(summary.mean_v);
    step_v = signal::converter_step_v(got.waveform->view());
    sd_v = summary.sd_v;
    context.tell_seen(
        event::Captured{step.place, reading.name, signal.name, static_cast<int>(values.size()), got.waveform, {}});
    if (signal::clipped_share(got.waveform->view()) > 0)
      reading.notes = {"it reaches beyond the screen: it cannot pass"};
    co_await context.timeline().sleep(base::from_seconds(apart_s * context.random().uniform(0.8, 1.2)));
  }
  reading.until_s = context.now_s();
  if (!reading.notes.empty()) context.cannot_pass(reading.name);
  const Chain chain = chain_of(context, signal);
  const auto mean = metrology::mean_of_independent(values);
  const double value = chain.unloaded(mean.value);
  std::vector<metrology::Contribution> budget{
      mean.contribution(fmt::format("records of {} at {:.3f} s", signal.name, reading.from_s), chain.unloaded(1))};
  add_chain(budget, chain, value, Share::direct);
  budget.push_back({.source = "conversion of the mean of " + signal.name,
                    .type = 'B',
                    .shape = metrology::Shape::normal,
                    .effect = conversion_v(step_v, sd_v)});
  reading.notes.insert(reading.notes.end(), chain.assumed.begin(), chain.assumed.end());
  complete(reading, value, budget);
  co_return reading;
}

task<metrology::Reading> dc_level(RunContext& context, const Step& step, const MeasureSetting& setting) {
  if (const SignalPlace* signal = context.sequence().signal(setting.operand))
    return signal->kind == "oscilloscope" ? of_scope(context, step, *signal) : of_meter(context, *signal, setting);
  return of_captures(context, setting.operand);
}

}  // namespace

void register_dc_level(Measures& measures) {
  measures.add({.name = "d.c. level",
                .about = "mean voltage of a multimeter's or an oscilloscope's signal, or of captures",
                .parameters = {},
                .example = "- measure: d.c. level of dc\n  over: 8 s\n  within: 30 s\n  name it: playing\n"},
               {{NameKind::captures},
                {"multimeter", "oscilloscope"},
                quantity::voltage,
                dc_level,
                [](const bench::BenchFile& bench, const SignalPlace& signal, double value) {
                  return least_budget(bench, signal, value, Share::direct);
                }});
}

}  // namespace eyelevel::sequence
