// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/driver.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/base/error.hpp"
#include "core/bench/kind/counter.hpp"
#include "core/bench/kind/function_generator.hpp"
#include "core/bench/kind/multimeter.hpp"
#include "core/bench/kind/power_supply.hpp"
#include "core/bench/kind/relay_box.hpp"
#include "core/quantity/text.hpp"

namespace eyelevel::plugin {

using bench::SettingTaken;
using registers::Answer;
using registers::OutsideValues;

namespace {

constexpr double rounding = 1e-4;            // of a setting that must stay as it was asked
constexpr double aperture_tolerance = 0.25;  // apertures come in line cycles
constexpr double output_tolerance = 0.01;    // of what an output is set to

bool near(double is, double wanted) { return std::abs(is - wanted) <= output_tolerance * std::abs(wanted) + 1e-3; }

// What all kinds have in common: asking, and looking whether a setting was taken.
class Talk {
 public:
  Talk(std::shared_ptr<const registers::OutsidePart> driver, const bench::InstrumentEntry& entry,
       base::Timeline& timeline)
      : driver_(std::move(driver)), role_(entry.role), resource_(entry.resource), timeline_(timeline) {}

  task<Answer> ask(std::string what, OutsideValues values, base::Duration within) const {
    values["resource"] = resource_;
    registers::Question question{.kind = registers::PartKind::driver,
                                 .name = driver_->declaration.name,
                                 .ask = std::move(what),
                                 .values = std::move(values),
                                 .results = {}};
    try {
      co_return co_await driver_->call(std::move(question), timeline_, within);
    } catch (base::Error error) {
      error.within(place());
      throw error;
    }
  }

  task<std::string> greet(base::Duration within) const {
    const Answer answer = co_await ask("greet", {}, within);
    if (answer.text.empty()) refuse(base::ErrorCode::bad_answer, "the driver does not say who the instrument is");
    co_return answer.text;
  }

  task<std::optional<int>> self_test(base::Duration within) const {
    const Answer answer = co_await ask("self test", {}, within);
    const auto at = answer.numbers.find("result");
    if (at == answer.numbers.end()) co_return std::nullopt;
    if (std::abs(at->second) > 1e6) refuse(base::ErrorCode::bad_answer, "the result of the self-test is no number");
    co_return static_cast<int>(std::lround(at->second));
  }

  // The value as read back, if `fits` says that it will do.
  template <class Fits>
  SettingTaken taken(const Answer& answer, const std::string& name, double asked, quantity::Dimension dimension,
                     Fits fits) const {
    const auto print = [&](double value) { return quantity::print({value, dimension}, 5); };
    const auto at = answer.numbers.find(name);
    if (at == answer.numbers.end())
      refuse(base::ErrorCode::bad_answer, fmt::format("the driver does not read back '{}'", name));
    if (!fits(at->second))
      refuse(base::ErrorCode::setting_not_taken,
             fmt::format("{}: {} was asked, {} is set", name, print(asked), print(at->second)));
    return {name, print(asked), print(at->second)};
  }

  double number(const Answer& answer, const std::string& name) const {
    const auto at = answer.numbers.find(name);
    if (at == answer.numbers.end() || !std::isfinite(at->second))
      refuse(base::ErrorCode::bad_answer, fmt::format("the driver does not say '{}'", name));
    return at->second;
  }

  task<> switch_output(int output, bool on, base::Duration within) const {
    const Answer answer =
        co_await ask(on ? "switch on" : "switch off", {{"output", static_cast<long long>(output)}}, within);
    if ((number(answer, "on") != 0) != on)
      refuse(base::ErrorCode::setting_not_taken,
             fmt::format("output {}: {} was asked, the driver says it is not", output, on ? "on" : "off"));
  }

  [[noreturn]] void not_taken(std::string_view what, std::string_view asked, std::string_view is) const {
    refuse(base::ErrorCode::setting_not_taken, fmt::format("{}: {} was asked, {} is set", what, asked, is));
  }

  double read_of(const Answer& answer, std::string_view unit) const {
    if (!answer.reading) refuse(base::ErrorCode::bad_answer, "the driver gives no reading");
    if (answer.reading->unit != unit)
      refuse(base::ErrorCode::bad_answer,
             fmt::format("the driver reads in '{}' where '{}' is asked", answer.reading->unit, unit));
    if (!std::isfinite(answer.reading->value)) refuse(base::ErrorCode::bad_answer, "the reading is no number");
    return answer.reading->value;
  }

 private:
  std::string place() const {
    return fmt::format("{} ({}), driver '{}' of {}", role_, resource_, driver_->declaration.name,
                       driver_->declaration.from);
  }
  [[noreturn]] void refuse(base::ErrorCode code, std::string message) const {
    base::ErrorRecord record;
    record.code = code;
    record.where = place();
    record.message = std::move(message);
    record.advice = "look at the instrument and at the plugin";
    throw base::Error(std::move(record));
  }

  std::shared_ptr<const registers::OutsidePart> driver_;
  std::string role_, resource_;
  base::Timeline& timeline_;
};

template <class Kind>
class Driven : public Kind {
 public:
  explicit Driven(Talk talk) : talk_(std::move(talk)) {}

  task<std::string> greet(base::Duration within) override { return talk_.greet(within); }
  task<std::optional<int>> self_test(base::Duration within) override { return talk_.self_test(within); }
  task<> make_safe(base::Duration within) override { co_await talk_.ask("make safe", {}, within); }
  void close() noexcept override {}  // the plugin goes on for others

 protected:
  Talk talk_;
};

class DrivenMultimeter final : public Driven<bench::Multimeter> {
 public:
  using Driven::Driven;

  task<std::vector<SettingTaken>> set_up_dc(const bench::DcSetting& setting, base::Duration within) override {
    const bench::DcSetting asked = setting;
    OutsideValues values{{"range", asked.range_v}, {"aperture", asked.aperture_s}};
    const Answer answer = co_await talk_.ask("set up", std::move(values), within);
    std::vector<SettingTaken> all;
    all.push_back(talk_.taken(answer, "range", asked.range_v, quantity::voltage,
                              [&](double v) { return v >= asked.range_v * (1 - rounding); }));
    all.push_back(talk_.taken(answer, "aperture", asked.aperture_s, quantity::time, [&](double s) {
      return asked.aperture_s <= 0 || std::abs(s - asked.aperture_s) <= aperture_tolerance * asked.aperture_s;
    }));
    co_return all;
  }
  task<double> read_dc(base::Duration within) override {
    const Answer answer = co_await talk_.ask("read", {}, within);
    co_return talk_.read_of(answer, "V");
  }
};

class DrivenCounter final : public Driven<bench::Counter> {
 public:
  using Driven::Driven;

  task<std::vector<SettingTaken>> set_up_frequency(const bench::FrequencySetting& setting,
                                                   base::Duration within) override {
    const bench::FrequencySetting asked = setting;
    OutsideValues values{{"input", static_cast<long long>(asked.input)},
                         {"coupling", std::string(asked.coupling == bench::Coupling::ac ? "ac" : "dc")},
                         {"level", asked.level_v},
                         {"gate", asked.gate_s}};
    const Answer answer = co_await talk_.ask("set up", std::move(values), within);
    std::vector<SettingTaken> all;
    all.push_back(talk_.taken(answer, "input", asked.input, quantity::ratio,
                              [&](double v) { return std::lround(v) == asked.input; }));
    all.push_back(talk_.taken(answer, "level", asked.level_v, quantity::voltage,
                              [&](double v) { return near(v, asked.level_v); }));
    all.push_back(talk_.taken(answer, "gate", asked.gate_s, quantity::time,
                              [&](double v) { return std::abs(v - asked.gate_s) <= 0.25 * asked.gate_s; }));
    co_return all;
  }
  task<double> read_frequency(base::Duration within) override {
    const Answer answer = co_await talk_.ask("read", {}, within);
    co_return talk_.read_of(answer, "Hz");
  }
};

class DrivenPowerSupply final : public Driven<bench::PowerSupply> {
 public:
  using Driven::Driven;

  task<std::vector<SettingTaken>> set_up(int output, const bench::OutputSetting& setting,
                                         base::Duration within) override {
    const bench::OutputSetting asked = setting;
    OutsideValues values{{"output", static_cast<long long>(output)},
                         {"voltage", asked.voltage_v},
                         {"current limit", asked.current_limit_a},
                         {"protection", asked.protection_v}};
    const Answer answer = co_await talk_.ask("set up", std::move(values), within);
    std::vector<SettingTaken> all;
    all.push_back(talk_.taken(answer, "voltage", asked.voltage_v, quantity::voltage,
                              [&](double v) { return near(v, asked.voltage_v); }));
    // What protects may be tighter than asked, never looser.
    all.push_back(talk_.taken(answer, "current limit", asked.current_limit_a, quantity::current,
                              [&](double a) { return a > 0 && a <= asked.current_limit_a * (1 + rounding); }));
    all.push_back(talk_.taken(answer, "protection", asked.protection_v, quantity::voltage,
                              [&](double v) { return v > 0 && v <= asked.protection_v * (1 + rounding); }));
    co_return all;
  }
  task<> switch_on(int output, base::Duration within) override { co_await talk_.switch_output(output, true, within); }
  task<> switch_off(int output, base::Duration within) override { co_await talk_.switch_output(output, false, within); }
  task<bench::OutputReading> read(int output, base::Duration within) override {
    const Answer answer = co_await talk_.ask("read", {{"output", static_cast<long long>(output)}}, within);
    co_return bench::OutputReading{.on = talk_.number(answer, "on") != 0,
                                   .tripped = talk_.number(answer, "tripped") != 0,
                                   .voltage_v = talk_.number(answer, "voltage"),
                                   .current_a = talk_.number(answer, "current")};
  }
};

class DrivenGenerator final : public Driven<bench::FunctionGenerator> {
 public:
  using Driven::Driven;

  task<std::vector<SettingTaken>> set_up(int output, const bench::SignalSetting& setting,
                                         base::Duration within) override {
    const bench::SignalSetting asked = setting;
    const std::string shape = asked.shape == bench::Shape::sine     ? "sine"
                              : asked.shape == bench::Shape::square ? "square"
                                                                    : "triangle";
    OutsideValues values{{"output", static_cast<long long>(output)},
                         {"shape", shape},
                         {"frequency", asked.frequency_hz},
                         {"peak to peak", asked.peak_to_peak_v},
                         {"offset", asked.offset_v}};
    const Answer answer = co_await talk_.ask("set up", std::move(values), within);
    if (answer.text != shape) talk_.not_taken("shape", shape, answer.text.empty() ? "nothing" : answer.text);
    std::vector<SettingTaken> all{{"shape", shape, answer.text}};
    all.push_back(talk_.taken(answer, "frequency", asked.frequency_hz, quantity::frequency, [&](double hz) {
      return std::abs(hz - asked.frequency_hz) <=
             bench::frequency_taken_relative * asked.frequency_hz + bench::frequency_taken_hz;
    }));
    all.push_back(talk_.taken(answer, "peak to peak", asked.peak_to_peak_v, quantity::voltage,
                              [&](double v) { return near(v, asked.peak_to_peak_v); }));
    all.push_back(talk_.taken(answer, "offset", asked.offset_v, quantity::voltage,
                              [&](double v) { return near(v, asked.offset_v); }));
    co_return all;
  }
  task<> switch_on(int output, base::Duration within) override { co_await talk_.switch_output(output, true, within); }
  task<> switch_off(int output, base::Duration within) override { co_await talk_.switch_output(output, false, within); }
};

class DrivenRelayBox final : public Driven<bench::RelayBox> {
 public:
  using Driven::Driven;

  task<std::vector<SettingTaken>> close_only(const std::vector<std::string>& ways, base::Duration within) override {
    const std::string asked = fmt::format("{}", fmt::join(ways, ", "));
    const Answer answer = co_await talk_.ask("close only", {{"ways", asked}}, within);
    auto wanted = ways;
    auto closed = names_in(answer.text);
    std::sort(wanted.begin(), wanted.end());
    std::sort(closed.begin(), closed.end());
    const std::string is = answer.text.empty() ? "none" : answer.text;
    if (wanted != closed) talk_.not_taken("ways", asked.empty() ? "none" : asked, is);
    co_return std::vector<SettingTaken>{{"ways", asked.empty() ? "none" : asked, is}};
  }
  task<std::vector<std::string>> closed(base::Duration within) override {
    const Answer answer = co_await talk_.ask("closed", {}, within);
    co_return names_in(answer.text);
  }

 private:
  static std::vector<std::string> names_in(std::string_view text) {
    std::vector<std::string> names;
    while (!text.empty()) {
      const std::size_t comma = std::min(text.find(','), text.size());
      std::string_view name = text.substr(0, comma);
      name.remove_prefix(std::min(name.find_first_not_of(' '), name.size()));
      while (name.ends_with(' ')) name.remove_suffix(1);
      if (!name.empty()) names.emplace_back(name);
      text.remove_prefix(std::min(comma + 1, text.size()));
    }
    return names;
  }
};

}  // namespace

std::unique_ptr<bench::Instrument> open_driver(std::shared_ptr<const registers::OutsidePart> driver,
                                               const bench::InstrumentEntry& entry, base::Timeline& timeline) {
  if (driver->instrument != entry.kind)
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("the driver '{}' of {} is for kind {}, {} is of kind {}", driver->declaration.name,
                                  driver->declaration.from, driver->instrument, entry.role, entry.kind),
                      "name another driver or phrasebook in the bench file");
  Talk talk(std::move(driver), entry, timeline);
  if (entry.kind == "multimeter") return std::make_unique<DrivenMultimeter>(std::move(talk));
  if (entry.kind == "power supply") return std::make_unique<DrivenPowerSupply>(std::move(talk));
  if (entry.kind == "function generator") return std::make_unique<DrivenGenerator>(std::move(talk));
  if (entry.kind == "relay box") return std::make_unique<DrivenRelayBox>(std::move(talk));
  return std::make_unique<DrivenCounter>(std::move(talk));
}

}  // namespace eyelevel::plugin
