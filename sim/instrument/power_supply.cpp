// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/power_supply.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "instruments/scpi/error.hpp"

namespace eyelevel::sim {
namespace {

constexpr double time_constant_s = 3e-3;
constexpr double settled_s = 30e-3;         // ten time constants
constexpr double highest_protection = 1.1;  // times the highest voltage
constexpr double step_v = 1e-3;
constexpr double step_a = 1e-3;

double stepped(double value, double step) { return std::round(value / step) * step; }

}  // namespace

SimulatedPowerSupply::SimulatedPowerSupply(base::Timeline& timeline, const SupplyClass& supply_class,
                                           const base::Random& random, std::string identity)
    : ScpiInstrument(timeline, std::move(identity), "DCPSUPPLY WITH (MEASURE|MULTIPLE)"),
      class_(supply_class),
      outputs_(static_cast<std::size_t>(supply_class.outputs)) {
  base::Random errors = random.stream("errors"), offsets = random.stream("offsets");
  for (Output& one : outputs_) {
    one.resistance_ohm = std::numeric_limits<double>::infinity();
    one.error_of_set = errors.uniform(-class_.of_voltage, class_.of_voltage);
    one.error_of_reading = errors.uniform(-class_.of_voltage, class_.of_voltage);
    one.error_of_limit = errors.uniform(-class_.of_current, class_.of_current);
    one.error_of_current = errors.uniform(-class_.of_current, class_.of_current);
    one.offset_v = offsets.uniform(-class_.offset_v, class_.offset_v);
    one.offset_a = offsets.uniform(-class_.offset_a, class_.offset_a);
  }
  register_source();
  register_output();
  register_measurement();
  reset();
}

void SimulatedPowerSupply::connect(int number, double resistance_ohm) {
  change(outputs_.at(static_cast<std::size_t>(number - 1)), [&](Output& one) { one.resistance_ohm = resistance_ohm; });
}

void SimulatedPowerSupply::lift(int number, double voltage_v) {
  change(outputs_.at(static_cast<std::size_t>(number - 1)), [&](Output& one) { one.lifted_v = voltage_v; });
}

double SimulatedPowerSupply::true_voltage_v(int number) {
  settle_operation();
  return voltage_v(outputs_.at(static_cast<std::size_t>(number - 1)));
}

void SimulatedPowerSupply::reset() {
  for (Output& one : outputs_)
    change(one, [&](Output& o) {
      o.set_v = 0;
      o.limit_a = class_.most_a / 10;
      o.protection_v = class_.most_v * highest_protection;
      o.on = o.tripped = false;
    });
}

bool SimulatedPowerSupply::limits(const Output& one) const {
  return one.on && one.set_v * (1 + one.error_of_set) > one.limit_a * (1 + one.error_of_limit) * one.resistance_ohm;
}

// Where the voltage goes.
double SimulatedPowerSupply::goal_v(const Output& one) const {
  double given_v = 0;
  if (limits(one)) {
    given_v = one.limit_a * (1 + one.error_of_limit) * one.resistance_ohm;
  } else if (one.on) {
    given_v = one.set_v * (1 + one.error_of_set);
  }
  return std::max(given_v, one.lifted_v);
}

double SimulatedPowerSupply::voltage_v(const Output& one) const {
  const double goal = goal_v(one);
  return goal + (one.from_v - goal) * std::exp(-std::max(0.0, now_s() - one.changed_s) / time_constant_s);
}

// Every change begins a way from the voltage of this moment.
template <class Change>
void SimulatedPowerSupply::change(Output& one, const Change& what) {
  const double now_v = voltage_v(one);
  what(one);
  if (goal_v(one) == now_v) return;
  one.from_v = now_v;
  one.changed_s = now_s();
}

void SimulatedPowerSupply::settle_operation() {
  bool limited = false;
  bool settling = false;
  for (Output& one : outputs_) {
    // With ten time constants behind it the voltage is where it goes.
    if (one.on && std::max(voltage_v(one), one.lifted_v) > one.protection_v) {
      change(one, [](Output& o) {
        o.on = false;
        o.tripped = true;
      });
    }
    limited |= limits(one);
    settling |= now_s() < one.changed_s + settled_s && one.from_v != goal_v(one);
  }
  status().questionable.set_condition_bit(0, limited);
  status().operation.set_condition_bit(1, settling);
}

bool SimulatedPowerSupply::operation_pending() { return (status().operation.condition() & 2U) != 0; }

base::Duration SimulatedPowerSupply::next_look() {
  double until_s = now_s();
  for (const Output& one : outputs_) until_s = std::max(until_s, one.changed_s + settled_s);
  return base::from_seconds(until_s) + base::Duration(1);
}

void SimulatedPowerSupply::register_source() {
  const std::string source = fmt::format("[SOURce<1-{}>]", class_.outputs);
  on_number(source + ":VOLTage[:LEVel][:IMMediate][:AMPLitude]",
            {.unit = scpi::Unit::volt,
             .limits = [this](const Call&) { return scpi::NumericLimits{0, class_.most_v, 0}; },
             .get = [this](const Call& call) { return output(call).set_v; },
             .set =
                 [this](const Call& call, double value) {
                   // What lies above the protection would trip at once.
                   if (value > output(call).protection_v) throw scpi::CommandError(-221, "above the protection");
                   change(output(call), [&](Output& o) { o.set_v = stepped(value, step_v); });
                 }});
  on_number(
      source + ":CURRent[:LEVel][:IMMediate][:AMPLitude]",
      {.unit = scpi::Unit::ampere,
       .limits = [this](const Call&) { return scpi::NumericLimits{0, class_.most_a, class_.most_a / 10}; },
       .get = [this](const Call& call) { return output(call).limit_a; },
       .set = [this](const Call& call,
                     double value) { change(output(call), [&](Output& o) { o.limit_a = stepped(value, step_a); }); }});
  on_number(source + ":VOLTage:PROTection[:LEVel]",
            {.unit = scpi::Unit::volt,
             .limits =
                 [this](const Call&) {
                   const double most_v = class_.most_v * highest_protection;
                   return scpi::NumericLimits{0, most_v, most_v};
                 },
             .get = [this](const Call& call) { return output(call).protection_v; },
             .set =
                 [this](const Call& call, double value) {
                   if (value < output(call).set_v) throw scpi::CommandError(-221, "below the voltage");
                   output(call).protection_v = stepped(value, step_v);
                 }});
  on(source + ":VOLTage:PROTection:TRIPped?", [this](Call& call) { call.response.boolean(output(call).tripped); });
  on(source + ":VOLTage:PROTection:CLEar", [this](Call& call) {
    call.expect(0, 0);
    output(call).tripped = false;
  });
}

void SimulatedPowerSupply::register_output() {
  const std::string node = fmt::format("OUTPut<1-{}>[:STATe]", class_.outputs);
  on(node, [this](Call& call) {
    call.expect(1, 1);
    const bool wanted = call.parameter().boolean();
    if (wanted && output(call).tripped) throw scpi::CommandError(-221, "the protection has tripped");
    change(output(call), [&](Output& o) { o.on = wanted; });
    settle_operation();
  });
  on(node + "?", [this](Call& call) {
    call.expect(0, 0);
    call.response.boolean(output(call).on);
  });
}

SimulatedPowerSupply::Output& SimulatedPowerSupply::output_of(const Call& call) {
  call.expect(0, 1);
  if (call.parameters.empty()) return outputs_.front();
  const auto list = call.parameter().channel_list();
  if (list.size() != 1) throw scpi::CommandError(-224, "one output");
  if (list[0] < 1 || list[0] > class_.outputs) throw scpi::CommandError(-222);
  return outputs_[static_cast<std::size_t>(list[0] - 1)];
}

void SimulatedPowerSupply::register_measurement() {
  on_waiting("MEASure[:SCALar]:VOLTage[:DC]?", [this](Call& call) -> task<> {
    co_await finish();
    const Output& one = output_of(call);
    call.response.nr3(stepped(voltage_v(one) * (1 + one.error_of_reading) + one.offset_v, step_v));
  });
  on_waiting("MEASure[:SCALar]:CURRent[:DC]?", [this](Call& call) -> task<> {
    co_await finish();
    const Output& one = output_of(call);
    const double true_a = one.on ? voltage_v(one) / one.resistance_ohm : 0;
    call.response.nr3(stepped(true_a * (1 + one.error_of_current) + one.offset_a, step_a));
  });
}

}  // namespace eyelevel::sim
