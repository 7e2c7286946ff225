// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/counter.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include "instruments/scpi/error.hpp"

namespace eyelevel::sim {
namespace {

constexpr double rate_hz = 20e6;
constexpr std::size_t chunk_samples = 1U << 16U;
constexpr double hysteresis_v = 10e-3;

}  // namespace

std::optional<double> counted_frequency(SignalSource& source, const Load& load, double level_v, double from_s,
                                        double until_s) {
  const auto level = static_cast<float>(level_v);
  const auto low = static_cast<float>(level_v - hysteresis_v);
  std::vector<float> volts(chunk_samples);
  const auto count = static_cast<std::size_t>(std::max(0.0, std::floor((until_s - from_s) * rate_hz)));
  double first = 0;
  double last = 0;
  std::size_t crossings = 0;
  bool from_below = false;
  float before = 0;
  for (std::size_t done = 0; done < count; done += chunk_samples) {
    const std::span part(volts.data(), std::min(chunk_samples, count - done));
    source.render(from_s + static_cast<double>(done) / rate_hz, rate_hz, part, load);
    for (std::size_t i = 0; i < part.size(); ++i) {
      const float v = part[i];
      if (from_below && v >= level) {
        const auto beyond = static_cast<double>((v - level) / (v - before));
        last = static_cast<double>(done + i) - beyond;
        if (crossings++ == 0) first = last;
        from_below = false;
      }
      from_below |= v < low;
      before = v;
    }
  }
  if (crossings < 2) return std::nullopt;
  return static_cast<double>(crossings - 1) * rate_hz / (last - first);
}

SimulatedCounter::SimulatedCounter(base::Timeline& timeline, const CounterClass& counter_class,
                                   const base::Random& random, std::string identity)
    : SingleReading(timeline, std::move(identity), "COUNTER", 12),
      class_(counter_class),
      inputs_(static_cast<std::size_t>(counter_class.inputs)) {
  base::Random errors = random.stream("errors");
  error_ = errors.uniform(-class_.of_frequency, class_.of_frequency);
  register_input();
  register_sense();
  register_trigger();
  reset();
}

void SimulatedCounter::connect(int number, std::shared_ptr<SignalSource> source, const Load& load) {
  Input& one = inputs_.at(static_cast<std::size_t>(number - 1));
  one.source = std::move(source);
  one.load = load;
}

void SimulatedCounter::reset() {
  for (Input& one : inputs_) {
    one.ac = true;
    one.level_v = 0;
  }
  chosen_ = 0;
  gate_s_ = 0.1;
  from_bus_ = false;
  go_idle();
  invalidate();
}

void SimulatedCounter::register_input() {
  const std::string node = fmt::format("INPut<1-{}>:COUPling", class_.inputs);
  on(node, [this](Call& call) {
    call.expect(1, 1);
    input(call).ac = call.parameter().choice({"DC", "AC"}) == 1;
    invalidate();
  });
  on(node + "?", [this](Call& call) { call.response.character(input(call).ac ? "AC" : "DC"); });
}

void SimulatedCounter::register_sense() {
  on("[SENSe]:FUNCtion[:ON]", [](Call& call) {
    call.expect(1, 1);
    const auto name = call.parameter().text();
    if (!scpi::matches_spelling(name, "FREQuency")) throw scpi::CommandError(-224, name);
  });
  on("[SENSe]:FUNCtion[:ON]?", [](Call& call) { call.response.string("FREQ"); });
  on_number(fmt::format("[SENSe]:EVENt<1-{}>:LEVel", class_.inputs),
            {.unit = scpi::Unit::volt,
             .limits = [](const Call&) { return scpi::NumericLimits{-5, 5, 0}; },
             .get = [this](const Call& call) { return input(call).level_v; },
             .set =
                 [this](const Call& call, double value) {
                   input(call).level_v = value;
                   invalidate();
                 }});
  on_number("[SENSe]:FREQuency:APERture", {.unit = scpi::Unit::second,
                                           .limits = [](const Call&) { return scpi::NumericLimits{1e-4, 10, 0.1}; },
                                           .get = [this](const Call&) { return gate_s_; },
                                           .set =
                                               [this](const Call&, double value) {
                                                 gate_s_ = value;
                                                 invalidate();
                                               }});
}

void SimulatedCounter::register_trigger() {
  register_reading();
  on("TRIGger[:SEQuence]:SOURce", [this](Call& call) {
    call.expect(1, 1);
    from_bus_ = call.parameter().choice({"IMMediate", "BUS"}) == 1;
    invalidate();
  });
  on("TRIGger[:SEQuence]:SOURce?", [this](Call& call) { call.response.character(from_bus_ ? "BUS" : "IMM"); });
  on_waiting("FETCh[:SCALar][:FREQuency]?", [this](Call& call) { return fetch(call); });
  on_waiting("READ[:SCALar][:FREQuency]?", [this](Call& call) { return read(call); });
}

double SimulatedCounter::measured(double begun_s) {
  const Input& one = inputs_[chosen_];
  if (!one.source) return std::numeric_limits<double>::quiet_NaN();
  const double until_s = begun_s + gate_s_;
  // Coupled a.c., the level is relative to the mean.
  const double mean_v = one.ac ? one.source->mean_v(begun_s, until_s, one.load) : 0;
  const auto counted = counted_frequency(*one.source, one.load, one.level_v + mean_v, begun_s, until_s);
  return counted ? *counted * (1 + error_) : std::numeric_limits<double>::quiet_NaN();
}

// READ? [(@input)]
task<> SimulatedCounter::read(Call& call) {
  call.expect(0, 1);
  std::size_t wanted = 0;
  if (!call.parameters.empty()) {
    const auto list = call.parameter().channel_list();
    if (list.size() != 1) throw scpi::CommandError(-224, "one input");
    if (list[0] < 1 || list[0] > class_.inputs) throw scpi::CommandError(-222);
    wanted = static_cast<std::size_t>(list[0] - 1);
  }
  go_idle();
  if (from_bus_) throw scpi::CommandError(-214);
  chosen_ = wanted;
  initiate();
  co_await fetch(call);
}

}  // namespace eyelevel::sim
