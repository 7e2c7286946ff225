// SPDX-License-Identifier: Apache-2.0
// Settings and the trigger system; what is fetched is in oscilloscope_data.cpp.
#include "sim/instrument/oscilloscope.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "instruments/scpi/error.hpp"

namespace eyelevel::sim {
namespace {

constexpr double range_least_in_v = 8e-3;
constexpr double range_most_in_v = 80;
constexpr double levels = 255;

// A name with a number at its end, as character data: INTernal2.
std::string_view without_number(std::string_view word, int& number) {
  std::size_t end = word.size();
  while (end > 0 && word[end - 1] >= '0' && word[end - 1] <= '9') --end;
  number = 1;
  if (end < word.size()) number = word.size() - end > 4 ? 99999 : std::stoi(std::string(word.substr(end)));
  return word.substr(0, end);
}

}  // namespace

SimulatedOscilloscope::SimulatedOscilloscope(base::Timeline& timeline, const ScopeClass& scope_class,
                                             const base::Random& random, std::string identity, Tongue tongue)
    : ScpiInstrument(timeline, std::move(identity), "DIGITIZER"), class_(scope_class), tongue_(tongue) {
  base::Random clock = random.stream("clock");
  clock_ = 1 + class_.clock_off + clock.uniform(-class_.clock_relative, class_.clock_relative);
  for (int i = 1; i <= class_.channels; ++i)
    channels_.push_back({FrontEnd(class_, random.stream(fmt::format("channel {}", i))), {}, {}, {}, false});
  register_input();
  register_sense();
  register_trigger();
  if (tongue_ == Tongue::standard) {
    register_format();
    register_measurement();
    register_trace();
  } else {
    register_tongue();
  }
  reset();
}

void SimulatedOscilloscope::connect(int number, std::shared_ptr<SignalSource> source, const ProbeWiring& probe) {
  channels_.at(static_cast<std::size_t>(number - 1)).front_end.connect(std::move(source), probe);
}

void SimulatedOscilloscope::reset() {
  for (auto& one : channels_) one.setting = {};
  sweep_ = {};
  trigger_ = {};
  format_ = {};
  told_ = {};
  function_ = "XTIM:VOLT1";
  trigger_coupling_ = "DC";
  go_idle();
  invalidate();
}

double SimulatedOscilloscope::offset_limit_in_v(const InputSetting& setting) const {
  return setting.range_in_v <= 1 ? 1 : 40;
}

void SimulatedOscilloscope::limit_offset(InputSetting& setting) const {
  const double limit = offset_limit_in_v(setting);
  setting.offset_in_v = std::clamp(setting.offset_in_v, -limit, limit);
}

void SimulatedOscilloscope::register_input() {
  const std::string input = fmt::format("INPut<1-{}>", class_.channels);
  on_boolean(input + "[:STATe]", [this](const Call& call) -> bool& {
    if (!call.parameters.empty()) invalidate();
    return channel(call).setting.on;
  });
  on(input + ":COUPling", [this](Call& call) {
    call.expect(1, 1);
    static constexpr std::array values{InputCoupling::ac, InputCoupling::dc, InputCoupling::ground};
    channel(call).setting.coupling = values[call.parameter().choice({"AC", "DC", "GROund"})];
    invalidate();
  });
  on(input + ":COUPling?", [this](Call& call) {
    static constexpr std::array names{"AC", "DC", "GRO"};
    call.response.character(names[static_cast<std::size_t>(channel(call).setting.coupling)]);
  });
  on_number(input + ":ATTenuation", {.unit = scpi::Unit::none,
                                     .limits = [](const Call&) { return scpi::NumericLimits{0.1, 1000, 1}; },
                                     .get = [this](const Call& call) { return channel(call).setting.attenuation; },
                                     .set =
                                         [this](const Call& call, double value) {
                                           channel(call).setting.attenuation = value;
                                           invalidate();
                                         }});
  on_number(input + ":IMPedance", {.unit = scpi::Unit::ohm,
                                   .limits = [](const Call&) { return scpi::NumericLimits{1e6, 1e6, 1e6}; },
                                   .get = [](const Call&) { return 1e6; },
                                   .set = [](const Call&, double) {}});
  on_boolean(input + ":FILTer[:LPASs][:STATe]", [this](const Call& call) -> bool& {
    if (!call.parameters.empty()) invalidate();
    return channel(call).setting.filter;
  });
  on_number(input + ":FILTer[:LPASs]:FREQuency",
            {.unit = scpi::Unit::hertz,
             .limits = [this](const Call&) { return scpi::NumericLimits{1e5, class_.bandwidth_hz, 20e6}; },
             .get = [this](const Call& call) { return channel(call).setting.filter_hz; },
             .set =
                 [this](const Call& call, double value) {
                   channel(call).setting.filter_hz = value;
                   invalidate();
                 }});
}

void SimulatedOscilloscope::register_sense() {
  const std::string range = fmt::format("[SENSe]:VOLTage<1-{}>[:DC]:RANGe", class_.channels);
  on_number(range + ":PTPeak", {.unit = scpi::Unit::volt,
                                .limits =
                                    [this](const Call& call) {
                                      const double factor = channel(call).setting.attenuation;
                                      return scpi::NumericLimits{range_least_in_v * factor, range_most_in_v * factor,
                                                                 2 * factor};
                                    },
                                .get =
                                    [this](const Call& call) {
                                      const auto& s = channel(call).setting;
                                      return s.range_in_v * s.attenuation;
                                    },
                                .set =
                                    [this](const Call& call, double value) {
                                      auto& s = channel(call).setting;
                                      s.range_in_v = value / s.attenuation;
                                      limit_offset(s);
                                      invalidate();
                                    }});
  on_number(range + ":OFFSet", {.unit = scpi::Unit::volt,
                                .limits =
                                    [this](const Call& call) {
                                      const auto& s = channel(call).setting;
                                      const double limit = offset_limit_in_v(s) * s.attenuation;
                                      return scpi::NumericLimits{-limit, limit, 0};
                                    },
                                .get =
                                    [this](const Call& call) {
                                      const auto& s = channel(call).setting;
                                      return s.offset_in_v * s.attenuation;
                                    },
                                .set =
                                    [this](const Call& call, double value) {
                                      auto& s = channel(call).setting;
                                      s.offset_in_v = value / s.attenuation;
                                      invalidate();
                                    }});
  const std::string sweep = "[SENSe]:SWEep";
  const auto setting = [this](double least, double most, double usual, std::function<double()> get,
                              std::function<void(double)> set, scpi::Unit unit) {
    return NumericSetting{
        .unit = unit,
        .limits = [least, most, usual](const Call&) { return scpi::NumericLimits{least, most, usual}; },
        .get = [get = std::move(get)](const Call&) { return get(); },
        .set =
            [this, set = std::move(set)](const Call&, double value) {
              set(value);
              invalidate();
            },
        .whole = false};
  };
  auto points = setting(
      2, static_cast<double>(class_.points_max), 1000, [this] { return static_cast<double>(sweep_.points); },
      [this](double value) { sweep_.points = std::llround(value); }, scpi::Unit::none);
  points.whole = true;
  on_number(sweep + ":POINts", points);
  on_number(sweep + ":TINTerval", setting(
                                      1e-9, 1e-3, 1e-6, [this] { return sweep_.interval_s; },
                                      [this](double value) { sweep_.interval_s = value; }, scpi::Unit::second));
  on_number(sweep + ":TIME", setting(
                                 1e-9, 1e-3 * static_cast<double>(class_.points_max - 1), 999e-6,
                                 [this] { return sweep_.interval_s * static_cast<double>(sweep_.points - 1); },
                                 [this](double value) {
                                   const double interval_s = value / static_cast<double>(sweep_.points - 1);
                                   if (interval_s < 1e-9 || interval_s > 1e-3) throw scpi::CommandError(-221);
                                   sweep_.interval_s = interval_s;
                                 },
                                 scpi::Unit::second));
  on_number(sweep + ":OREFerence:LOCation", setting(
                                                0, 1, 0, [this] { return sweep_.reference; },
                                                [this](double value) { sweep_.reference = value; }, scpi::Unit::none));
  on_number(sweep + ":OFFSet:TIME", setting(
                                        -10, 10, 0, [this] { return sweep_.offset_s; },
                                        [this](double value) { sweep_.offset_s = value; }, scpi::Unit::second));
  if (tongue_ != Tongue::standard) return;
  on("[SENSe]:FUNCtion[:ON]", [this](Call& call) {
    call.expect(1, 1);
    std::string wanted = call.parameter().text();
    for (char& c : wanted) c = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
    for (int i = 1; i <= class_.channels; ++i) {
      const std::string short_name = fmt::format("XTIM:VOLT{}", i);
      if (wanted != short_name && wanted != fmt::format("XTIME:VOLTAGE{}", i) && !(i == 1 && wanted == "XTIM:VOLT"))
        continue;
      function_ = short_name;
      return;
    }
    throw scpi::CommandError(-224, wanted);
  });
  on("[SENSe]:FUNCtion[:ON]?", [this](Call& call) { call.response.string(function_); });
}

void SimulatedOscilloscope::register_trigger() {
  on("ABORt", [this](Call& call) {
    call.expect(0, 0);
    go_idle();
  });
  on("INITiate[:IMMediate][:ALL]", [this](Call& call) {
    call.expect(0, 0);
    initiate();
  });
  on("TRIGger[:SEQuence][:IMMediate]", [this](Call&) {
    if (!acquisition_.force(now_s())) throw scpi::CommandError(-211);
  });
  on("TRIGger[:SEQuence]:SOURce", [this](Call& call) {
    call.expect(1, 1);
    scpi::Parameter word = call.parameter();
    int number = 1;
    word.raw = without_number(word.raw, number);
    static constexpr std::array values{TriggerSource::immediate, TriggerSource::bus, TriggerSource::external,
                                       TriggerSource::hold, TriggerSource::internal};
    const auto source = values[word.choice({"IMMediate", "BUS", "EXTernal", "HOLD", "INTernal"})];
    if (source == TriggerSource::internal && (number < 1 || number > class_.channels)) throw scpi::CommandError(-224);
    trigger_.source = source;
    trigger_.channel = number;
    invalidate();
  });
  on("TRIGger[:SEQuence]:SOURce?", [this](Call& call) {
    static constexpr std::array names{"IMM", "BUS", "EXT", "INT", "HOLD"};
    const std::string name = names[static_cast<std::size_t>(trigger_.source)];
    call.response.character(trigger_.source == TriggerSource::internal ? name + std::to_string(trigger_.channel)
                                                                       : name);
  });
  const auto value = [this](double least, double most, double TriggerSetting::* place, scpi::Unit unit) {
    return NumericSetting{.unit = unit,
                          .limits = [least, most](const Call&) { return scpi::NumericLimits{least, most, 0}; },
                          .get = [this, place](const Call&) { return trigger_.*place; },
                          .set =
                              [this, place](const Call&, double wanted) {
                                trigger_.*place = wanted;
                                invalidate();
                              },
                          .whole = false};
  };
  on_number("TRIGger[:SEQuence]:LEVel", value(-1e5, 1e5, &TriggerSetting::level_v, scpi::Unit::volt));
  on_number("TRIGger[:SEQuence]:DELay", value(0, 10, &TriggerSetting::delay_s, scpi::Unit::second));
  on("TRIGger[:SEQuence]:SLOPe", [this](Call& call) {
    call.expect(1, 1);
    static constexpr std::array values{TriggerSlope::positive, TriggerSlope::negative, TriggerSlope::either};
    trigger_.slope = values[call.parameter().choice({"POSitive", "NEGative", "EITHer"})];
    invalidate();
  });
  on("TRIGger[:SEQuence]:SLOPe?", [this](Call& call) {
    static constexpr std::array names{"POS", "NEG", "EITH"};
    call.response.character(names[static_cast<std::size_t>(trigger_.slope)]);
  });
  on("TRIGger[:SEQuence]:COUPling", [](Call& call) {
    call.expect(1, 1);
    // The trigger path follows the input; AC is not offered.
    if (call.parameter().choice({"DC", "AC"}) == 1) throw scpi::CommandError(-221, "trigger path is d.c. coupled");
  });
  on("TRIGger[:SEQuence]:COUPling?", [this](Call& call) { call.response.character(trigger_coupling_); });
  on_number("TRIGger[:SEQuence]:COUNt", {.unit = scpi::Unit::none,
                                         .limits = [](const Call&) { return scpi::NumericLimits{1, 1, 1}; },
                                         .get = [](const Call&) { return 1.0; },
                                         .set = [](const Call&, double) {},
                                         .whole = true});
}

void SimulatedOscilloscope::initiate() {
  settle_operation();
  if (acquisition_.pending()) throw scpi::CommandError(-213);
  invalidate();
  armed_.clear();
  for (const auto& one : channels_) armed_.push_back(one.setting);
  const auto& seen = armed_[static_cast<std::size_t>(trigger_.channel - 1)];
  const double hysteresis_v = 0.02 * seen.range_in_v * seen.attenuation;
  acquisition_.begin(sweep_, trigger_, hysteresis_v, clock_, now_s());
  settle_operation();
}

void SimulatedOscilloscope::go_idle() {
  acquisition_.go_idle();
  status().operation.set_condition(0);
}

void SimulatedOscilloscope::bus_trigger() {
  settle_operation();
  if (!acquisition_.waits_for_bus()) throw scpi::CommandError(-211);
  acquisition_.force(now_s());
}

base::Duration SimulatedOscilloscope::next_look() {
  // Up to the next nanosecond, so that the record is complete when it is looked at.
  return base::from_seconds(acquisition_.next_look_s(now_s())) + base::Duration(1);
}

void SimulatedOscilloscope::settle_operation() {
  const bool complete =
      acquisition_.advance(now_s(), [this](double start_s, double interval_s, std::span<float> volts) {
        const auto index = static_cast<std::size_t>(trigger_.channel - 1);
        const auto& setting = armed_[index];
        channels_[index].front_end.analog(setting, {start_s, interval_s}, volts);
        const auto factor = static_cast<float>(setting.attenuation);
        for (float& v : volts) v *= factor;
      });
  if (complete) {
    const FrontEnd::Span span{acquisition_.record_start_s(), acquisition_.true_interval_s()};
    for (std::size_t i = 0; i < channels_.size(); ++i) {
      auto& one = channels_[i];
      const auto& setting = armed_[i];
      one.recorded = setting.on && (one.front_end.connected() || i == 0);
      if (!one.recorded) continue;
      one.codes.resize(static_cast<std::size_t>(sweep_.points));
      one.front_end.digitise(setting, span, one.codes);
      const double step_v = setting.range_in_v * setting.attenuation / levels;
      one.scale = {step_v, setting.offset_in_v * setting.attenuation + 0.5 * step_v};
    }
    valid_ = true;
  }
  auto& operation = status().operation;
  operation.set_condition_bit(5, acquisition_.waiting());
  operation.set_condition_bit(4, acquisition_.pending() && !acquisition_.waiting());
}

}  // namespace eyelevel::sim
