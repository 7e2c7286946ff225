// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/function_generator.hpp"

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
using bench::Shape;
using scpi::ProgramBuilder;
using scpi::ResponseReader;

// What a generator may round away of what it was told.
constexpr double voltage_relative = 0.002;
constexpr double voltage_step_v = 2e-3;
constexpr double no_limit = 1 + 1e-9;  // 5 V is allowed where 5 V is written

std::string volts(double value) { return quantity::print({value, quantity::voltage}, 5); }
std::string hertz(double value) { return quantity::print({value, quantity::frequency}, 7); }

class PhrasebookFunctionGenerator final : public bench::FunctionGenerator {
 public:
  PhrasebookFunctionGenerator(base::Timeline& timeline, Phrasebook book, std::unique_ptr<transport::Session> session,
                              std::vector<OutputEntry> outputs)
      : talk_(timeline, std::move(session), book.common),
        phrases_(std::get<FunctionGeneratorPhrases>(book.phrases)),
        outputs_(talk_, phrases_.output, {}, std::move(outputs)) {}

  task<std::string> greet(base::Duration within) override {
    outputs_.forget();
    return talk_.greet(talk_.deadline(within));
  }
  task<> make_safe(base::Duration within) override { return outputs_.make_safe(talk_.deadline(within)); }
  void close() noexcept override { talk_.close(); }
  task<std::optional<int>> self_test(base::Duration within) override { return talk_.self_test(talk_.deadline(within)); }
  task<std::vector<SettingTaken>> set_up(int output, const bench::SignalSetting& setting,
                                         base::Duration within) override;
  task<> switch_on(int output, base::Duration within) override;
  task<> switch_off(int output, base::Duration within) override;

 private:
  struct SignalRead {
    std::string shape;
    double frequency_hz = 0;
    std::string unit;
    double amplitude_v = 0;
    double offset_v = 0;
  };

  void allow(const OutputEntry& output, const bench::SignalSetting& setting) const;
  const std::string& word_for(Shape shape) const;
  ProgramBuilder commands(int output, const bench::SignalSetting& setting) const;
  task<SignalRead> read_signal(int output, Deadline deadline);
  std::vector<SettingTaken> prove(const bench::SignalSetting& asked, const SignalRead& is) const;
  task<> switch_output(int output, bool on, Deadline deadline);

  Conversation talk_;
  FunctionGeneratorPhrases phrases_;
  Outputs outputs_;
};

void PhrasebookFunctionGenerator::allow(const OutputEntry& output, const bench::SignalSetting& setting) const {
  const double peak_v = std::abs(setting.offset_v) + setting.peak_to_peak_v / 2;
  if (!(setting.peak_to_peak_v >= 0 && peak_v <= output.most_v * no_limit))
    talk_.refuse(
        base::ErrorCode::bad_input,
        fmt::format("output {}: {} peak to peak around {} was asked, the bench file allows {} at most", output.number,
                    volts(setting.peak_to_peak_v), volts(setting.offset_v), volts(output.most_v)),
        "ask for less; the bench file says what hangs on the output and how much that bears");
  if (!(setting.frequency_hz > 0 && std::isfinite(setting.frequency_hz)))
    talk_.refuse(base::ErrorCode::bad_input,
                 fmt::format("output {}: {} is no frequency", output.number, hertz(setting.frequency_hz)),
                 "ask for a frequency above 0 Hz");
}

const std::string& PhrasebookFunctionGenerator::word_for(Shape shape) const {
  switch (shape) {
    case Shape::square: return phrases_.square;
    case Shape::triangle: return phrases_.triangle;
    case Shape::sine: break;
  }
  return phrases_.sine;
}

ProgramBuilder PhrasebookFunctionGenerator::commands(int output, const bench::SignalSetting& setting) const {
  ProgramBuilder tell;
  command(tell, phrases_.output, output).boolean(false);
  if (!phrases_.load.empty()) command(tell, phrases_.load, output).word(phrases_.open_load);
  command(tell, phrases_.shape, output).word(word_for(setting.shape));
  command(tell, phrases_.frequency, output).number(setting.frequency_hz);
  if (!phrases_.amplitude_unit.empty()) command(tell, phrases_.amplitude_unit, output).word(phrases_.peak_to_peak);
  // Offset back to nothing first, so that amplitude and offset never exceed the instrument's range on the way.
  command(tell, phrases_.offset, output).number(0);
  command(tell, phrases_.amplitude, output).number(setting.peak_to_peak_v);
  command(tell, phrases_.offset, output).number(setting.offset_v);
  return tell;
}

task<PhrasebookFunctionGenerator::SignalRead> PhrasebookFunctionGenerator::read_signal(int output, Deadline deadline) {
  const bool has_unit = !phrases_.amplitude_unit.empty();
  ProgramBuilder ask;
  query(ask, phrases_.shape, output);
  query(ask, phrases_.frequency, output);
  if (has_unit) query(ask, phrases_.amplitude_unit, output);
  query(ask, phrases_.amplitude, output);
  query(ask, phrases_.offset, output);
  SignalRead is;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        is.shape = answer.character();
        answer.next_unit();
        is.frequency_hz = answer.number();
        answer.next_unit();
        if (has_unit) {
          is.unit = answer.character();
          answer.next_unit();
        }
        is.amplitude_v = answer.number();
        answer.next_unit();
        is.offset_v = answer.number();
      },
      deadline);
  co_return is;
}

std::vector<SettingTaken> PhrasebookFunctionGenerator::prove(const bench::SignalSetting& asked,
                                                             const SignalRead& is) const {
  const std::string advice = "ask for a value that the instrument has; look whether another one limits it";
  const std::string& shape = word_for(asked.shape);
  if (!means(is.shape, shape)) talk_.not_taken("shape", shape, is.shape, advice);
  if (!(std::abs(is.frequency_hz - asked.frequency_hz) <=
        bench::frequency_taken_relative * asked.frequency_hz + bench::frequency_taken_hz))
    talk_.not_taken("frequency", hertz(asked.frequency_hz), hertz(is.frequency_hz), advice);
  if (!phrases_.amplitude_unit.empty() && !means(is.unit, phrases_.peak_to_peak))
    talk_.not_taken("amplitude unit", phrases_.peak_to_peak, is.unit, "is this the right phrasebook?");
  const auto near = [](double a, double b) {
    return std::abs(a - b) <= voltage_relative * std::abs(a) + voltage_step_v;
  };
  if (!near(asked.peak_to_peak_v, is.amplitude_v))
    talk_.not_taken("amplitude", volts(asked.peak_to_peak_v), volts(is.amplitude_v), advice);
  if (!near(asked.offset_v, is.offset_v)) talk_.not_taken("offset", volts(asked.offset_v), volts(is.offset_v), advice);
  return {{"shape", shape, shape},
          {"frequency", hertz(asked.frequency_hz), hertz(is.frequency_hz)},
          {"amplitude", volts(asked.peak_to_peak_v), volts(is.amplitude_v)},
          {"offset", volts(asked.offset_v), volts(is.offset_v)}};
}

task<std::vector<SettingTaken>> PhrasebookFunctionGenerator::set_up(int output, const bench::SignalSetting& setting,
                                                                    base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  const bench::SignalSetting asked = setting;
  outputs_.forget(output);
  allow(outputs_.entry(output), asked);
  co_await talk_.tell(commands(output, asked), deadline);
  std::vector<SettingTaken> taken = prove(asked, co_await read_signal(output, deadline));
  co_await outputs_.prove(output, false, deadline);
  taken.push_back({"output", "off", "off"});
  outputs_.is_set_up(output);
  co_return taken;
}

task<> PhrasebookFunctionGenerator::switch_output(int output, bool on, Deadline deadline) {
  ProgramBuilder tell;
  command(tell, phrases_.output, output).boolean(on);
  co_await talk_.tell(tell, deadline);
  co_await outputs_.prove(output, on, deadline);
}

task<> PhrasebookFunctionGenerator::switch_on(int output, base::Duration within) {
  outputs_.entry(output);
  outputs_.require_set_up(output);
  co_await switch_output(output, true, talk_.deadline(within));
}

task<> PhrasebookFunctionGenerator::switch_off(int output, base::Duration within) {
  outputs_.entry(output);
  co_await switch_output(output, false, talk_.deadline(within));
}

}  // namespace

std::unique_ptr<bench::FunctionGenerator> open_function_generator(base::Timeline& timeline,
                                                                  const Phrasebook& phrasebook,
                                                                  std::unique_ptr<transport::Session> session,
                                                                  std::vector<bench::OutputEntry> outputs) {
  if (!std::holds_alternative<FunctionGeneratorPhrases>(phrasebook.phrases))
    refuse_other_kind(phrasebook, "function generator");
  return std::make_unique<PhrasebookFunctionGenerator>(timeline, phrasebook, std::move(session), std::move(outputs));
}

}  // namespace eyelevel::phrasebook
