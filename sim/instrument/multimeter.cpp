// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/multimeter.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "instruments/scpi/error.hpp"

namespace eyelevel::sim {
namespace {

constexpr std::array ranges_v{0.1, 1.0, 10.0, 100.0, 1000.0};
constexpr double overload = 1.2;

double range_for(double volts) {
  for (const double range : ranges_v)
    if (std::abs(volts) <= range * (1 + 1e-12)) return range;
  return ranges_v.back();
}

}  // namespace

SimulatedMultimeter::SimulatedMultimeter(base::Timeline& timeline, const MeterClass& meter_class,
                                         const base::Random& random, std::string identity)
    : SingleReading(timeline, std::move(identity), "DCVOLTMETER", 9),
      class_(meter_class),
      noise_(random.stream("noise")) {
  base::Random errors = random.stream("errors");
  error_of_reading_ = errors.uniform(-class_.of_reading, class_.of_reading);
  error_of_range_ = errors.uniform(-class_.of_range, class_.of_range);
  register_sense();
  register_trigger();
  register_measurement();
  reset();
}

void SimulatedMultimeter::connect(std::shared_ptr<SignalSource> source, const Load& load) {
  source_ = std::move(source);
  load_ = load;
}

void SimulatedMultimeter::reset() {
  range_v_ = 10;
  autorange_ = true;
  aperture_s_ = 10 / class_.line_hz;
  resolution_v_ = 1e-5;
  trigger_ = Source::immediate;
  go_idle();
  invalidate();
}

void SimulatedMultimeter::register_sense() {
  on("[SENSe]:FUNCtion[:ON]", [](Call& call) {
    call.expect(1, 1);
    const auto name = call.parameter().text();
    const bool known = scpi::matches_spelling(name, "VOLTage") || scpi::matches_spelling(name, "VOLT:DC") ||
                       scpi::matches_spelling(name, "VOLTAGE:DC");
    if (!known) throw scpi::CommandError(-224, name);
  });
  on("[SENSe]:FUNCtion[:ON]?", [](Call& call) { call.response.string("VOLT"); });
  const auto setting = [this](scpi::NumericLimits limits, scpi::Unit unit, std::function<double()> get,
                              std::function<void(double)> set) {
    return NumericSetting{.unit = unit,
                          .limits = [limits](const Call&) { return limits; },
                          .get = [get = std::move(get)](const Call&) { return get(); },
                          .set =
                              [this, set = std::move(set)](const Call&, double value) {
                                set(value);
                                invalidate();
                              },
                          .whole = false};
  };
  const std::string volts = "[SENSe]:VOLTage[:DC]";
  on_number(volts + ":RANGe[:UPPer]", setting(
                                          {0, 1000, 10}, scpi::Unit::volt, [this] { return range_v_; },
                                          [this](double value) {
                                            range_v_ = range_for(value);
                                            autorange_ = false;
                                          }));
  on_boolean(volts + ":RANGe:AUTO", [this](const Call& call) -> bool& {
    if (!call.parameters.empty()) invalidate();
    return autorange_;
  });
  on_number(volts + ":RESolution", setting(
                                       {1e-8, 1, 1e-5}, scpi::Unit::volt, [this] { return resolution_v_; },
                                       [this](double value) { resolution_v_ = value; }));
  on_number(volts + ":APERture",
            setting(
                {0.01 / class_.line_hz, 100 / class_.line_hz, 10 / class_.line_hz}, scpi::Unit::second,
                [this] { return aperture_s_; }, [this](double value) { aperture_s_ = value; }));
  on_number(volts + ":NPLCycles",
            setting(
                {0.01, 100, 10}, scpi::Unit::none, [this] { return aperture_s_ * class_.line_hz; },
                [this](double value) { aperture_s_ = value / class_.line_hz; }));
}

void SimulatedMultimeter::register_trigger() {
  register_reading();
  on("TRIGger[:SEQuence]:SOURce", [this](Call& call) {
    call.expect(1, 1);
    static constexpr std::array values{Source::immediate, Source::bus, Source::external, Source::hold};
    trigger_ = values[call.parameter().choice({"IMMediate", "BUS", "EXTernal", "HOLD"})];
    invalidate();
  });
  on("TRIGger[:SEQuence]:SOURce?", [this](Call& call) {
    static constexpr std::array names{"IMM", "BUS", "EXT", "HOLD"};
    call.response.character(names[static_cast<std::size_t>(trigger_)]);
  });
  for (const std::string name : {"COUNt", "DELay"}) {
    const double only = name == "COUNt" ? 1 : 0;
    on_number("TRIGger[:SEQuence]:" + name,
              {.unit = only == 1 ? scpi::Unit::none : scpi::Unit::second,
               .limits = [only](const Call&) { return scpi::NumericLimits{only, only, only}; },
               .get = [only](const Call&) { return only; },
               .set = [](const Call&, double) {},
               .whole = only == 1});
  }
}

void SimulatedMultimeter::register_measurement() {
  const std::string function = "[:SCALar][:VOLTage][:DC]";
  on("CONFigure[:SCALar]:VOLTage[:DC]", [this](Call& call) { configure(call); });
  on("CONFigure?", [this](Call& call) {
    std::string text = "VOLT ";
    scpi::append_nr3(text, range_v_, 3);
    text += ',';
    scpi::append_nr3(text, resolution_v_, 3);
    call.response.string(text);
  });
  on_waiting("FETCh" + function + "?", [this](Call& call) { return fetch(call); });
  on_waiting("READ" + function + "?", [this](Call& call) { return read(call, false); });
  on_waiting("MEASure[:SCALar]:VOLTage[:DC]?", [this](Call& call) { return read(call, true); });
}

// CONFigure:VOLTage:DC [<expected>[,<resolution>]]
void SimulatedMultimeter::configure(Call& call) {
  call.expect(0, 2);
  autorange_ = true;
  trigger_ = Source::immediate;
  if (!call.parameters.empty() && !call.parameter().is_word("DEFault") && !call.parameter().is_word("AUTO")) {
    range_v_ = range_for(call.parameter().number(scpi::Unit::volt, scpi::NumericLimits{-1000, 1000, 10}));
    autorange_ = false;
  }
  if (call.parameters.size() > 1)
    resolution_v_ = call.parameter(1).number(scpi::Unit::volt, scpi::NumericLimits{1e-8, 1, 1e-5});
  invalidate();
}

double SimulatedMultimeter::measured(double begun_s) {
  const double true_v = source_ ? source_->mean_v(begun_s, begun_s + aperture_s_, load_) : 0;
  if (autorange_) range_v_ = range_for(true_v);
  const double noise_v = class_.noise_of_range * range_v_ / std::sqrt(aperture_s_ * class_.line_hz);
  const double read_v = true_v * (1 + error_of_reading_) + error_of_range_ * range_v_ + noise_.normal(0, noise_v);
  if (!(std::abs(read_v) <= overload * range_v_)) {
    return read_v < 0 ? -std::numeric_limits<double>::infinity() : std::numeric_limits<double>::infinity();
  }
  return std::round(read_v / resolution_v_) * resolution_v_;
}

task<> SimulatedMultimeter::read(Call& call, bool configure_first) {
  go_idle();
  if (configure_first) configure(call);
  if (trigger_ == Source::bus || trigger_ == Source::hold) throw scpi::CommandError(-214);
  initiate();
  co_await fetch(call);
}

}  // namespace eyelevel::sim
