// SPDX-License-Identifier: Apache-2.0
#include "sim/unit/unit_make.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/base/random.hpp"

namespace eyelevel::sim {
namespace {

// An instrument that is as quiet as its bench file says, as the proof of the bench looks at it: on a screen of 1.4 V at
// the tip. What the steps of the converter add to the noise finds room, too.
void keep_noise_below(ScopeClass& scope, double stated_in_v, double probe_factor) {
  constexpr double screen_v = 1.4, room = 0.7;
  const double usual = std::hypot(scope.noise_in_v, scope.noise_of_range * screen_v / probe_factor);
  const double part = std::min(1.0, room * stated_in_v / usual);
  scope.noise_in_v *= part;
  scope.noise_of_range *= part;
}

InstrumentMake oscilloscope(const bench::InstrumentEntry& entry, base::Random random) {
  InstrumentMake make;
  make.role = entry.role;
  make.kind = entry.kind;
  // Phrasebooks that are built in; one of the user's own is served in the standard's words.
  if (entry.phrasebook == "block-with-numbered-header") make.tongue = Tongue::numbered_header;
  if (entry.phrasebook == "block-with-keyed-header") make.tongue = Tongue::keyed_header;
  make.scope.gain_relative = entry.gain_accuracy;
  make.scope.offset_of_range = 0;
  if (entry.clock_accuracy > 0) make.scope.clock_relative = entry.clock_accuracy;
  double probe_factor = 1;
  for (const auto& channel : entry.channels) {
    ProbeWiring probe;
    probe.factor = channel.probe_factor;
    if (channel.probe_resistance_ohm > 0) probe.resistance_ohm = channel.probe_resistance_ohm;
    if (channel.probe_capacitance_f > 0) probe.capacitance_f = channel.probe_capacitance_f;
    probe.divider_error = random.uniform(-channel.probe_accuracy, channel.probe_accuracy);
    probe.compensation = 1 + random.uniform(-channel.probe_compensation, channel.probe_compensation);
    make.probes[channel.number] = probe;
    make.scope.channels = std::max(make.scope.channels, channel.number);
    probe_factor = std::max(probe_factor, channel.probe_factor);
  }
  // The bench file states the offset at the probe tip.
  make.scope.offset_in_v = entry.offset_accuracy_v / probe_factor;
  if (entry.noise_v > 0) keep_noise_below(make.scope, entry.noise_v / probe_factor, probe_factor);
  return make;
}

InstrumentMake multimeter(const bench::InstrumentEntry& entry) {
  InstrumentMake make;
  make.role = entry.role;
  make.kind = entry.kind;
  make.meter.of_reading = entry.reading_accuracy;
  make.meter.of_range = entry.range_accuracy;
  make.meter_load = Load{entry.input_resistance_ohm > 0 ? entry.input_resistance_ohm : 10e6, 110e-12};
  return make;
}

InstrumentMake power_supply(const bench::InstrumentEntry& entry) {
  InstrumentMake make;
  make.role = entry.role;
  make.kind = entry.kind;
  make.supply.of_voltage = entry.voltage_accuracy;
  make.supply.of_current = entry.current_accuracy;
  make.supply.offset_v = entry.voltage_offset_v.value_or(0);
  make.supply.offset_a = entry.current_offset_a.value_or(0);
  for (const auto& output : entry.outputs) {
    make.supply.outputs = std::max(make.supply.outputs, output.number);
    make.supply.most_v = std::max(make.supply.most_v, output.most_v);
    make.supply.most_a = std::max(make.supply.most_a, output.most_a);
  }
  return make;
}

InstrumentMake function_generator(const bench::InstrumentEntry& entry) {
  InstrumentMake make;
  make.role = entry.role;
  make.kind = entry.kind;
  make.generator.of_frequency = entry.frequency_accuracy;
  make.generator.of_amplitude = entry.amplitude_accuracy;
  for (const auto& output : entry.outputs) make.generator.outputs = std::max(make.generator.outputs, output.number);
  return make;
}

InstrumentMake counter(const bench::InstrumentEntry& entry) {
  InstrumentMake make;
  make.role = entry.role;
  make.kind = entry.kind;
  make.counter.of_frequency = entry.frequency_accuracy;
  make.counter_load = Load{entry.input_resistance_ohm, 30e-12};
  return make;
}

InstrumentMake relay_box(const bench::InstrumentEntry& entry) {
  InstrumentMake make;
  make.role = entry.role;
  make.kind = entry.kind;
  for (const auto& way : entry.ways) make.relays = std::max(make.relays, way.channel);
  return make;
}

// Its height within what is stated; its frequency is nobody's standard.
CalibratorMake calibrator(const bench::InstrumentEntry& entry, base::Random random) {
  CalibratorMake make;
  const bench::Calibrator stated = entry.calibrator.value_or(bench::Calibrator{make.height_v, 0.01});
  make.height_v = stated.height_v * (1 + random.uniform(-stated.height_accuracy, stated.height_accuracy));
  make.frequency_hz *= 1 + random.uniform(-0.01, 0.01);
  return make;
}

InstrumentMake instrument_of_kind(const bench::InstrumentEntry& entry, const base::Random& random) {
  if (entry.kind == "oscilloscope") return oscilloscope(entry, random.stream("probe of " + entry.role));
  if (entry.kind == "power supply") return power_supply(entry);
  if (entry.kind == "function generator") return function_generator(entry);
  if (entry.kind == "counter") return counter(entry);
  if (entry.kind == "relay box") return relay_box(entry);
  return multimeter(entry);
}

InstrumentMake instrument(const bench::InstrumentEntry& entry, const base::Random& random) {
  InstrumentMake make = instrument_of_kind(entry, random);
  make.calibration_due = entry.calibration_due;
  if (entry.kind == "oscilloscope") make.calibrator = calibrator(entry, random.stream("calibrator of " + entry.role));
  return make;
}

}  // namespace

InstrumentMake* UnitMake::instrument_of_kind(const std::string& kind) {
  const auto it = std::find_if(instruments.begin(), instruments.end(), [&](const auto& i) { return i.kind == kind; });
  return it == instruments.end() ? nullptr : &*it;
}

ModelTraits traits_of(const bench::ModelSheet& sheet) {
  ModelTraits traits;
  traits.model = sheet.model;
  traits.light_raises_voltage = sheet.pad.light_raises_voltage;
  if (sheet.pad.source_resistance_ohm.value > 0) traits.source_ohm = sheet.pad.source_resistance_ohm.value;
  traits.audio_speed = sheet.speed.audio;
  traits.data_speed = sheet.speed.data;
  traits.reads_in_bursts = sheet.speed.in_bursts;
  if (sheet.trimmer)
    traits.clockwise_raises = sheet.trimmer->sense == bench::TrimmerSense::unknown
                                  ? std::nullopt
                                  : std::optional(sheet.trimmer->sense == bench::TrimmerSense::clockwise_raises);
  if (sheet.laser_current && sheet.laser_current->has_power_loop)
    traits.has_power_loop = *sheet.laser_current->has_power_loop;
  if (sheet.service_value) traits.nominal_level_v = sheet.service_value->level_v.value;
  if (sheet.reference && sheet.reference->voltage_v) traits.reference_v = sheet.reference->voltage_v->value;
  return traits;
}

UnitMake draw_unit(std::uint64_t seed, const ModelTraits& model, const bench::BenchFile& bench) {
  const base::Random random(seed, "unit");
  UnitMake make;
  make.seed = make.person_seed = seed;
  make.player = draw_player(seed, model);
  const auto contents = std::make_shared<const Contents>(draw_contents(ContentsWish{}, random.stream("contents")));
  for (const DiscKind kind : {DiscKind::pressed, DiscKind::recordable, DiscKind::rewritable})
    make.box.push_back(std::make_shared<const Disc>(draw_disc(kind, contents, random.stream(name_of(kind)))));
  put_on_bench(make, seed, make.bench_serial, bench);
  return make;
}

void put_on_bench(UnitMake& make, std::uint64_t bench_seed, std::string bench_serial, const bench::BenchFile& bench) {
  const base::Random random(bench_seed, "unit");
  make.bench_seed = bench_seed;
  make.bench_serial = std::move(bench_serial);
  make.instruments.clear();
  for (const auto& entry : bench.instruments) make.instruments.push_back(instrument(entry, random));
}

}  // namespace eyelevel::sim
