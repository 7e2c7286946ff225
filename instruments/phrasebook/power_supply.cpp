// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/power_supply.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "core/base/error.hpp"
#include "core/quantity/text.hpp"
#include "instruments/phrasebook/conversation.hpp"
#include "instruments/phrasebook/numbered.hpp"
#include "instruments/phrasebook/outputs.hpp"

namespace eyelevel::phrasebook {
namespace {

using bench::OutputEntry;
using bench::SettingTaken;
using scpi::ProgramBuilder;
using scpi::ResponseReader;

// What a supply may round away of what it was told: its steps are some millivolts and milliamperes.
constexpr double relative_step = 0.002;
constexpr double step_v = 0.011;
constexpr double step_a = 0.011;
// Protections are coarser.
constexpr double protection_relative = 0.02;
constexpr double protection_step_v = 0.11;
constexpr double no_limit = 1 + 1e-9;  // 5.5 V is allowed where 5.5 V is written

std::string volts(double value) { return quantity::print({value, quantity::voltage}, 5); }
std::string amperes(double value) { return quantity::print({value, quantity::current}, 5); }

class PhrasebookPowerSupply final : public bench::PowerSupply {
 public:
  PhrasebookPowerSupply(base::Timeline& timeline, Phrasebook book, std::unique_ptr<transport::Session> session,
                        std::vector<OutputEntry> outputs)
      : talk_(timeline, std::move(session), book.common),
        phrases_(std::get<PowerSupplyPhrases>(book.phrases)),
        is_single_(book.channels == 1),
        outputs_(talk_, phrases_.output, phrases_.tripped, std::move(outputs)) {}

  task<std::string> greet(base::Duration within) override {
    outputs_.forget();
    return talk_.greet(talk_.deadline(within));
  }
  task<> make_safe(base::Duration within) override { return outputs_.make_safe(talk_.deadline(within)); }
  void close() noexcept override { talk_.close(); }
  task<std::optional<int>> self_test(base::Duration within) override { return talk_.self_test(talk_.deadline(within)); }
  task<std::vector<SettingTaken>> set_up(int output, const bench::OutputSetting& setting,
                                         base::Duration within) override;
  task<> switch_on(int output, base::Duration within) override;
  task<> switch_off(int output, base::Duration within) override;
  task<bench::OutputReading> read(int output, base::Duration within) override;

 private:
  void allow(const OutputEntry& output, const bench::OutputSetting& setting) const;
  std::vector<SettingTaken> prove(const bench::OutputSetting& asked, const bench::OutputSetting& is) const;

  Conversation talk_;
  PowerSupplyPhrases phrases_;
  bool is_single_;
  Outputs outputs_;
};

void PhrasebookPowerSupply::allow(const OutputEntry& output, const bench::OutputSetting& setting) const {
  const auto forbid = [&](std::string_view what, const std::string& asked, const std::string& most) {
    talk_.refuse(base::ErrorCode::bad_input,
                 fmt::format("{} of output {}: {} was asked, the bench file allows {} to {}", what, output.number,
                             asked, what == "current limit" ? "0 A" : "0 V", most),
                 "ask for less; the bench file says what hangs on the output and how much that bears");
  };
  const double most_v = output.most_v * no_limit;
  if (!(setting.voltage_v >= 0 && setting.voltage_v <= most_v))
    forbid("voltage", volts(setting.voltage_v), volts(output.most_v));
  if (!(setting.protection_v >= 0 && setting.protection_v <= most_v))
    forbid("protection", volts(setting.protection_v), volts(output.most_v));
  if (!(setting.current_limit_a >= 0 && setting.current_limit_a <= output.most_a * no_limit))
    forbid("current limit", amperes(setting.current_limit_a), amperes(output.most_a));
  if (setting.protection_v < setting.voltage_v)
    talk_.refuse(base::ErrorCode::bad_input,
                 fmt::format("protection of output {} at {}: that is below its voltage of {}", output.number,
                             volts(setting.protection_v), volts(setting.voltage_v)),
                 "ask for a protection above the voltage");
}

std::vector<SettingTaken> PhrasebookPowerSupply::prove(const bench::OutputSetting& asked,
                                                       const bench::OutputSetting& is) const {
  const auto near = [](double a, double b, double relative, double step) {
    return std::abs(a - b) <= relative * std::abs(a) + step;
  };
  const std::string advice = "ask for a value that the instrument has; look whether another one limits it";
  if (!near(asked.voltage_v, is.voltage_v, relative_step, step_v))
    talk_.not_taken("voltage", volts(asked.voltage_v), volts(is.voltage_v), advice);
  if (!near(asked.current_limit_a, is.current_limit_a, relative_step, step_a))
    talk_.not_taken("current limit", amperes(asked.current_limit_a), amperes(is.current_limit_a), advice);
  if (!near(asked.protection_v, is.protection_v, protection_relative, protection_step_v))
    talk_.not_taken("protection", volts(asked.protection_v), volts(is.protection_v), advice);
  return {{"voltage", volts(asked.voltage_v), volts(is.voltage_v)},
          {"current limit", amperes(asked.current_limit_a), amperes(is.current_limit_a)},
          {"protection", volts(asked.protection_v), volts(is.protection_v)}};
}

task<std::vector<SettingTaken>> PhrasebookPowerSupply::set_up(int output, const bench::OutputSetting& setting,
                                                              base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  const bench::OutputSetting asked = setting;
  outputs_.forget(output);
  allow(outputs_.entry(output), asked);
  ProgramBuilder tell;
  // Off first. Then down to nothing, so that no protection on its way lies below a voltage that is set.
  command(tell, phrases_.output, output).boolean(false);
  command(tell, phrases_.clear_protection, output);
  command(tell, phrases_.voltage, output).number(0);
  command(tell, phrases_.current_limit, output).number(asked.current_limit_a);
  command(tell, phrases_.protection, output).number(asked.protection_v);
  command(tell, phrases_.voltage, output).number(asked.voltage_v);
  co_await talk_.tell(tell, deadline);
  ProgramBuilder ask;
  query(ask, phrases_.voltage, output);
  query(ask, phrases_.current_limit, output);
  query(ask, phrases_.protection, output);
  bench::OutputSetting is;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        is.voltage_v = answer.number();
        answer.next_unit();
        is.current_limit_a = answer.number();
        answer.next_unit();
        is.protection_v = answer.number();
      },
      deadline);
  std::vector<SettingTaken> taken = prove(asked, is);
  co_await outputs_.prove(output, false, deadline);
  taken.push_back({"output", "off", "off"});
  outputs_.is_set_up(output);
  co_return taken;
}

task<> PhrasebookPowerSupply::switch_on(int output, base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  outputs_.entry(output);
  outputs_.require_set_up(output);
  ProgramBuilder tell;
  command(tell, phrases_.output, output).boolean(true);
  tell.query(talk_.phrases().completed);
  co_await talk_.wait_for(tell, "the output did not settle", "look at what hangs on the output", deadline);
  co_await outputs_.prove(output, true, deadline);
}

task<> PhrasebookPowerSupply::switch_off(int output, base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  outputs_.entry(output);
  ProgramBuilder tell;
  co_await talk_.tell(command(tell, phrases_.output, output).boolean(false), deadline);
  co_await outputs_.prove(output, false, deadline);
}

task<bench::OutputReading> PhrasebookPowerSupply::read(int output, base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  outputs_.entry(output);
  ProgramBuilder ask;
  query(ask, phrases_.measured_voltage, output);
  if (!is_single_) ask.channel(output);
  query(ask, phrases_.measured_current, output);
  if (!is_single_) ask.channel(output);
  query(ask, phrases_.output, output);
  query(ask, phrases_.tripped, output);
  bench::OutputReading reading;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        reading.voltage_v = answer.number();
        answer.next_unit();
        reading.current_a = answer.number();
        answer.next_unit();
        reading.on = answer.boolean();
        answer.next_unit();
        reading.tripped = answer.boolean();
      },
      deadline);
  if (!std::isfinite(reading.voltage_v) || !std::isfinite(reading.current_a))
    talk_.refuse(base::ErrorCode::bad_answer,
                 fmt::format("output {} reads {:g} V and {:g} A, which is nothing that can be", output,
                             reading.voltage_v, reading.current_a),
                 "read again; if it stays, look at the instrument's own display");
  co_return reading;
}

}  // namespace

std::unique_ptr<bench::PowerSupply> open_power_supply(base::Timeline& timeline, const Phrasebook& phrasebook,
                                                      std::unique_ptr<transport::Session> session,
                                                      std::vector<bench::OutputEntry> outputs) {
  if (!std::holds_alternative<PowerSupplyPhrases>(phrasebook.phrases)) refuse_other_kind(phrasebook, "power supply");
  return std::make_unique<PhrasebookPowerSupply>(timeline, phrasebook, std::move(session), std::move(outputs));
}

}  // namespace eyelevel::phrasebook
