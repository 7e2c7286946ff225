// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/function_generator.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <utility>

#include "instruments/scpi/error.hpp"
#include "sim/instrument/generated_signal.hpp"

namespace eyelevel::sim {
namespace {

constexpr double most_hz = 20e6;
constexpr double least_hz = 1e-3;
constexpr double peak_most_v = 10;

}  // namespace

SimulatedFunctionGenerator::SimulatedFunctionGenerator(base::Timeline& timeline, const GeneratorClass& generator_class,
                                                       const base::Random& random, std::string identity)
    : ScpiInstrument(timeline, std::move(identity), "FSOURCE"), class_(generator_class) {
  base::Random errors = random.stream("errors");
  // One clock for all outputs.
  const double frequency_factor = 1 + errors.uniform(-class_.of_frequency, class_.of_frequency);
  for (int i = 0; i < class_.outputs; ++i)
    signals_.push_back(std::make_shared<GeneratedSignal>(
        frequency_factor, 1 + errors.uniform(-class_.of_amplitude, class_.of_amplitude)));
  register_source();
  register_output();
  reset();
}

std::shared_ptr<SignalSource> SimulatedFunctionGenerator::place(int output) const {
  return signals_.at(static_cast<std::size_t>(output - 1));
}

bool SimulatedFunctionGenerator::is_on(int output) const {
  return signals_.at(static_cast<std::size_t>(output - 1))->setting().on;
}

void SimulatedFunctionGenerator::reset() {
  for (const auto& one : signals_) one->set({}, now_s());
}

void SimulatedFunctionGenerator::register_source() {
  const std::string source = fmt::format("[SOURce<1-{}>]", class_.outputs);
  on(source + ":FUNCtion[:SHAPe]", [this](Call& call) {
    call.expect(1, 1);
    using Shape = GeneratorSetting::Shape;
    static constexpr std::array shapes{Shape::sine, Shape::square, Shape::triangle};
    GeneratorSetting setting = signal(call).setting();
    setting.shape = shapes[call.parameter().choice({"SINusoid", "SQUare", "TRIangle"})];
    signal(call).set(setting, now_s());
  });
  on(source + ":FUNCtion[:SHAPe]?", [this](Call& call) {
    static constexpr std::array names{"SIN", "SQU", "TRI"};
    call.response.character(names[static_cast<std::size_t>(signal(call).setting().shape)]);
  });
  // The peak must stay within the output's reach.
  const auto number = [this](scpi::Unit unit, scpi::NumericLimits limits, double GeneratorSetting::* place) {
    return NumericSetting{.unit = unit,
                          .limits = [limits](const Call&) { return limits; },
                          .get = [this, place](const Call& call) { return signal(call).setting().*place; },
                          .set =
                              [this, place](const Call& call, double value) {
                                GeneratorSetting setting = signal(call).setting();
                                setting.*place = value;
                                const double peak_v = std::abs(setting.offset_v) + setting.peak_to_peak_v / 2;
                                if (peak_v > peak_most_v) throw scpi::CommandError(-221, "amplitude and offset");
                                signal(call).set(setting, now_s());
                              },
                          .whole = false};
  };
  on_number(source + ":FREQuency[:CW]",
            number(scpi::Unit::hertz, {least_hz, most_hz, 1000}, &GeneratorSetting::frequency_hz));
  on_number(source + ":VOLTage[:LEVel][:IMMediate][:AMPLitude]",
            number(scpi::Unit::volt, {0, 2 * peak_most_v, 0.1}, &GeneratorSetting::peak_to_peak_v));
  on_number(source + ":VOLTage[:LEVel][:IMMediate]:OFFSet",
            number(scpi::Unit::volt, {-peak_most_v, peak_most_v, 0}, &GeneratorSetting::offset_v));
  on(source + ":VOLTage:UNIT", [](Call& call) {
    call.expect(1, 1);
    call.parameter().choice({"VPP"});  // it knows no other
  });
  on(source + ":VOLTage:UNIT?", [](Call& call) { call.response.character("VPP"); });
}

void SimulatedFunctionGenerator::register_output() {
  const std::string node = fmt::format("OUTPut<1-{}>[:STATe]", class_.outputs);
  on(node, [this](Call& call) {
    call.expect(1, 1);
    GeneratorSetting setting = signal(call).setting();
    setting.on = call.parameter().boolean();
    signal(call).set(setting, now_s());
  });
  on(node + "?", [this](Call& call) {
    call.expect(0, 0);
    call.response.boolean(signal(call).setting().on);
  });
}

}  // namespace eyelevel::sim
