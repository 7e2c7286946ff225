// SPDX-License-Identifier: Apache-2.0
// What a power supply reads at its own terminals. Its accuracy is the one that the bench file states; that it reads
// what it gives itself is no error of the reading, but says nothing of the wires behind the terminals.
#include <fmt/format.h>

#include <optional>
#include <utility>
#include <vector>

#include "core/bench/bench_file.hpp"
#include "core/metrology/observations.hpp"
#include "core/metrology/type_b.hpp"
#include "core/sequence/measure/from_captures.hpp"
#include "core/sequence/measure/ready.hpp"

namespace eyelevel::sequence {

namespace {

constexpr int readings = 5;

// Of the most that the output may give: what a reading of nothing may be off where the bench file does not say.
constexpr double usual_offset = 1e-3;

struct Quantity {
  std::string_view measure;
  std::string_view unit;
  double bench::OutputReading::* value;
  double bench::InstrumentEntry::* accuracy;
  std::optional<double> bench::InstrumentEntry::* offset;
  double bench::OutputEntry::* most;
  std::string_view offset_key;
};
constexpr Quantity output_voltage{"output voltage",
                                  "V",
                                  &bench::OutputReading::voltage_v,
                                  &bench::InstrumentEntry::voltage_accuracy,
                                  &bench::InstrumentEntry::voltage_offset_v,
                                  &bench::OutputEntry::most_v,
                                  "voltage offset"};
constexpr Quantity output_current{"output current",
                                  "A",
                                  &bench::OutputReading::current_a,
                                  &bench::InstrumentEntry::current_accuracy,
                                  &bench::InstrumentEntry::current_offset_a,
                                  &bench::OutputEntry::most_a,
                                  "current offset"};

// The part that a share of the reading does not tell: it stays where nothing flows.
struct Offset {
  double half_width = 0;
  bool is_stated = false;
};
Offset offset_of(const bench::InstrumentEntry& entry, const SignalPlace& signal, const Quantity& of) {
  if (const auto& stated = entry.*of.offset) return {*stated, true};
  const bench::OutputEntry* output = entry.output(signal.channel);
  return {output ? usual_offset * output->*of.most : 0, false};
}

// What the bench file says of a reading.
std::vector<metrology::Contribution> stated(const bench::InstrumentEntry& entry, const SignalPlace& signal,
                                            const Quantity& of, double value) {
  return {metrology::rectangular(fmt::format("{} as {} reads it", of.measure, signal.role), value * entry.*of.accuracy),
          metrology::rectangular(fmt::format("{} of {}", of.offset_key, signal.role),
                                 offset_of(entry, signal, of).half_width)};
}

[[noreturn]] void refuse_tripped(const SignalPlace& signal) {
  throw base::Error(base::ErrorCode::instrument_error,
                    fmt::format("the protection of {} output {} has switched it off", signal.role, signal.channel),
                    "look at what hangs on the output before it is switched on again");
}

task<metrology::Reading> read_output(RunContext& context, const SignalPlace& signal, const Quantity& of) {
  bench::PowerSupply& supply = context.power_supply(signal.role);
  metrology::Reading reading = begin_reading(context, signal, std::string(of.measure), std::string(of.unit), readings);
  std::vector<double> values;
  bool was_off = false;
  for (int i = 0; i < readings; ++i) {
    context.progress() = fmt::format("{} of {} readings of {} came", i, readings, signal.name);
    const bench::OutputReading one = co_await supply.read(signal.channel, context.call_limit());
    if (one.tripped) refuse_tripped(signal);
    was_off = was_off || !one.on;
    values.push_back(one.*of.value);
  }
  reading.until_s = context.now_s();
  if (was_off) reading.notes.emplace_back("the output was off");
  const auto mean = metrology::mean_of_independent(values);
  std::vector<metrology::Contribution> budget{
      mean.contribution(fmt::format("readings of {} at {:.3f} s", signal.name, reading.from_s))};
  if (const bench::InstrumentEntry* entry = context.bench().find(signal.role)) {
    for (auto& one : stated(*entry, signal, of, mean.value)) budget.push_back(std::move(one));
    const Offset offset = offset_of(*entry, signal, of);
    if (!offset.is_stated)
      reading.notes.push_back(fmt::format("the bench file does not state the {} of {}: taken as ± {:.3g} {}",
                                          of.offset_key, signal.role, offset.half_width, of.unit));
  }
  complete(reading, mean.value, budget);
  co_return reading;
}

MeasureCall call(const Quantity& of, quantity::Dimension dimension) {
  return {{},
          {"power supply"},
          dimension,
          [&of](RunContext& context, const Step&, const MeasureSetting& setting) {
            return read_output(context, *context.sequence().signal(setting.operand), of);
          },
          [&of](const bench::BenchFile& bench, const SignalPlace& signal, double value) {
            const bench::InstrumentEntry* entry = bench.find(signal.role);
            return entry ? stated(*entry, signal, of, value) : std::vector<metrology::Contribution>();
          }};
}

}  // namespace

void register_output_reading(Measures& measures) {
  measures.add({.name = std::string(output_voltage.measure),
                .about = "what a power supply reads at an output's terminals",
                .parameters = {},
                .example = "- measure: output voltage of rail\n  within: 5 s\n  name it: rail_voltage\n"},
               call(output_voltage, quantity::voltage));
  measures.add({.name = std::string(output_current.measure),
                .about = "the current out of a power supply's output, as it reads it",
                .parameters = {},
                .example = "- measure: output current of rail\n  within: 5 s\n  name it: rail_current\n"},
               call(output_current, quantity::current));
}

}  // namespace eyelevel::sequence
