// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/measure/chain.hpp"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "core/bench/bench_file.hpp"
#include "core/bench/model_sheet.hpp"
#include "core/metrology/type_b.hpp"

namespace eyelevel::sequence {

namespace {

// What a pad's source is taken to be when no model sheet says it: about 1 kOhm is usual, nothing more is known.
constexpr double usual_source_ohm = 1000;
// Where the bench file does not say what an input puts across the pad.
constexpr double usual_input_ohm = 1e6;
constexpr double usual_meter_ohm = 10e6;

void source_of(Chain& chain, const bench::ModelSheet* model) {
  if (model) {
    chain.source_ohm = model->pad.source_resistance_ohm.value;
    chain.source_half_ohm = model->pad.source_resistance_ohm.half_width;
    return;
  }
  chain.source_ohm = usual_source_ohm;
  chain.source_half_ohm = usual_source_ohm;
  chain.assumed.push_back("no model sheet: the pad's source resistance is taken as 0 to 2 kΩ");
}

void oscilloscope(Chain& chain, const bench::InstrumentEntry& entry, const SignalPlace& signal, double probe_factor) {
  chain.instrument = fmt::format("{} channel {}", signal.role, signal.channel);
  chain.gain = entry.gain_accuracy;
  chain.offset_v = entry.offset_accuracy_v;
  chain.input_ohm = probe_factor * usual_input_ohm;
  const bench::ChannelEntry* channel = entry.channel(signal.channel);
  if (!channel) {
    chain.assumed.push_back(
        fmt::format("the bench file does not describe {}: its probe is taken as exact", chain.instrument));
    return;
  }
  chain.divider = channel->probe_accuracy;
  chain.compensation = channel->probe_compensation;
  chain.probe_f = channel->probe_capacitance_f;
  if (channel->probe_resistance_ohm > 0) chain.input_ohm = channel->probe_resistance_ohm;
}

void multimeter(Chain& chain, const bench::InstrumentEntry& entry, const SignalPlace& signal, double range_v) {
  chain.instrument = signal.role;
  chain.gain = entry.reading_accuracy;
  chain.offset_v = entry.range_accuracy * range_v;
  chain.input_ohm = entry.input_resistance_ohm > 0 ? entry.input_resistance_ohm : usual_meter_ohm;
}

}  // namespace

Chain chain_of(const RunContext& context, const SignalPlace& signal) {
  return chain_of(context.bench(), context.model(), signal, context.set_up_of(signal.name));
}

Chain chain_of(const bench::BenchFile& bench, const bench::ModelSheet* model, const SignalPlace& signal,
               const SignalSetUp& set) {
  Chain chain;
  const bench::InstrumentEntry* entry = bench.find(signal.role);
  if (!entry) throw base::Error(base::ErrorCode::defect, fmt::format("'{}' is not on the bench", signal.role));
  if (signal.kind == "multimeter") {
    multimeter(chain, *entry, signal, set.dc ? set.dc->range_v : 0);
  } else {
    oscilloscope(chain, *entry, signal, set.channel ? set.channel->probe_factor : 1);
  }
  source_of(chain, model);
  return chain;
}

void add_chain(std::vector<metrology::Contribution>& budget, const Chain& chain, double value, Share share) {
  const auto add = [&](std::string source, double half_width, double sensitivity) {
    if (half_width * sensitivity == 0) return;
    budget.push_back(metrology::rectangular(std::move(source), half_width, sensitivity));
  };
  // Below zero, too: what two readings share then has the sign that it must have in their difference.
  add("gain of " + chain.instrument, chain.gain, value);
  add("divider of the probe on " + chain.instrument, chain.divider, value);
  if (share == Share::alternating) add("compensation of the probe on " + chain.instrument, chain.compensation, value);
  if (share == Share::direct) add("offset of " + chain.instrument, chain.offset_v, 1);
  add("source resistance of the pad, seen by " + chain.instrument, chain.source_half_ohm / chain.input_ohm, value);
}

std::vector<metrology::Contribution> least_budget(const bench::BenchFile& bench, const SignalPlace& signal,
                                                  double value, Share share) {
  std::vector<metrology::Contribution> budget;
  if (bench.find(signal.role)) add_chain(budget, chain_of(bench, nullptr, signal, {}), value, share);
  return budget;
}

double conversion_v(double step_v, double sd_v) {
  if (!(step_v > 0)) return 0;
  using std::numbers::pi;
  const double still = step_v / std::sqrt(12.0);
  const double spread = sd_v / step_v;
  const double first_harmonic = step_v / pi * std::exp(-2 * pi * pi * spread * spread) / std::sqrt(2.0);
  // With no spread the first harmonic alone is less than the whole saw-tooth: between them the larger holds.
  return spread < 0.2 ? still : first_harmonic;
}

}  // namespace eyelevel::sequence
