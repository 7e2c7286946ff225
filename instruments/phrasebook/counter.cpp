// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/counter.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "core/base/error.hpp"
#include "core/quantity/text.hpp"
#include "instruments/phrasebook/conversation.hpp"
#include "instruments/phrasebook/numbered.hpp"

namespace eyelevel::phrasebook {
namespace {

using bench::SettingTaken;
using scpi::ProgramBuilder;
using scpi::ResponseReader;

constexpr double gate_tolerance = 0.25;  // gates come in steps: the nearest may be off by some
constexpr double level_step_v = 0.02;    // and so do levels
constexpr double highest_hz = 1e12;      // above that it is no frequency that a counter counts

class PhrasebookCounter final : public bench::Counter {
 public:
  PhrasebookCounter(base::Timeline& timeline, Phrasebook book, std::unique_ptr<transport::Session> session)
      : talk_(timeline, std::move(session), book.common),
        phrases_(std::get<CounterPhrases>(book.phrases)),
        is_single_(book.channels == 1) {}

  task<std::string> greet(base::Duration within) override {
    input_ = 0;
    return talk_.greet(talk_.deadline(within));
  }
  task<> make_safe(base::Duration within) override { return talk_.make_safe(talk_.deadline(within)); }
  void close() noexcept override { talk_.close(); }
  task<std::optional<int>> self_test(base::Duration within) override { return talk_.self_test(talk_.deadline(within)); }
  task<std::vector<SettingTaken>> set_up_frequency(const bench::FrequencySetting& setting,
                                                   base::Duration within) override;
  task<double> read_frequency(base::Duration within) override;

 private:
  struct FrequencyRead {
    std::string quantity;
    std::string coupling;
    double level_v = 0;
    double gate_s = 0;
    std::string source;
  };

  task<FrequencyRead> read_settings(int input, Deadline deadline);
  std::vector<SettingTaken> prove(const bench::FrequencySetting& asked, const FrequencyRead& is) const;

  Conversation talk_;
  CounterPhrases phrases_;
  bool is_single_;
  int input_ = 0;  // that was set up; 0: none
};

task<PhrasebookCounter::FrequencyRead> PhrasebookCounter::read_settings(int input, Deadline deadline) {
  ProgramBuilder ask;
  ask.query(phrases_.measured_quantity);
  query(ask, phrases_.coupling, input);
  query(ask, phrases_.level, input);
  ask.query(phrases_.gate).query(phrases_.trigger_source);
  FrequencyRead is;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        is.quantity = answer.string();
        answer.next_unit();
        is.coupling = answer.character();
        answer.next_unit();
        is.level_v = answer.number();
        answer.next_unit();
        is.gate_s = answer.number();
        answer.next_unit();
        is.source = answer.character();
      },
      deadline);
  co_return is;
}

std::vector<SettingTaken> PhrasebookCounter::prove(const bench::FrequencySetting& asked,
                                                   const FrequencyRead& is) const {
  const auto volts = [](double value) { return quantity::print({value, quantity::voltage}, 4); };
  const auto seconds = [](double value) { return quantity::print({value, quantity::time}, 4); };
  const bool dc = asked.coupling == bench::Coupling::dc;
  if (!means(is.quantity, phrases_.frequency))
    talk_.not_taken("measured quantity", "frequency", is.quantity, "is this the right phrasebook for the instrument?");
  if (!means(is.coupling, dc ? phrases_.dc : phrases_.ac))
    talk_.not_taken("coupling", dc ? "dc" : "ac", is.coupling, "set the coupling by hand and look whether it stays");
  if (!(std::abs(is.level_v - asked.level_v) <= level_step_v))
    talk_.not_taken("level", volts(asked.level_v), volts(is.level_v), "ask for a level that the instrument has");
  if (!(std::abs(is.gate_s - asked.gate_s) <= gate_tolerance * asked.gate_s))
    talk_.not_taken("gate", seconds(asked.gate_s), seconds(is.gate_s), "ask for a gate that the instrument has");
  if (!means(is.source, phrases_.at_once))
    talk_.not_taken("trigger source", "at once", is.source, "set the trigger by hand and look whether it stays");
  return {{"measured quantity", "frequency", "frequency"},
          {"coupling", dc ? "dc" : "ac", dc ? "dc" : "ac"},
          {"level", volts(asked.level_v), volts(is.level_v)},
          {"gate", seconds(asked.gate_s), seconds(is.gate_s)},
          {"trigger source", "at once", "at once"}};
}

task<std::vector<SettingTaken>> PhrasebookCounter::set_up_frequency(const bench::FrequencySetting& setting,
                                                                    base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  const bench::FrequencySetting asked = setting;
  input_ = 0;
  if (asked.input < 1 || !(asked.gate_s > 0))
    talk_.refuse(base::ErrorCode::bad_input, fmt::format("input {} with a gate of {:g} s", asked.input, asked.gate_s),
                 "ask for an input from 1 upward and a gate above 0 s");
  ProgramBuilder tell;
  tell.command(talk_.phrases().stop);
  tell.command(phrases_.measured_quantity).string(spoken(phrases_.frequency));
  command(tell, phrases_.coupling, asked.input).word(asked.coupling == bench::Coupling::dc ? phrases_.dc : phrases_.ac);
  command(tell, phrases_.level, asked.input).number(asked.level_v);
  tell.command(phrases_.gate).number(asked.gate_s);
  tell.command(phrases_.trigger_source).word(phrases_.at_once);
  co_await talk_.tell(tell, deadline);
  std::vector<SettingTaken> taken = prove(asked, co_await read_settings(asked.input, deadline));
  input_ = asked.input;
  co_return taken;
}

task<double> PhrasebookCounter::read_frequency(base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  if (input_ == 0)
    talk_.refuse(base::ErrorCode::bad_input, "the counter was not set up before the reading", "set it up first");
  ProgramBuilder ask;
  ask.query(phrases_.read);
  if (!is_single_) ask.channel(input_);
  double value_hz = 0;
  co_await talk_.ask(std::move(ask), [&](ResponseReader& answer) { value_hz = answer.number(); }, deadline);
  if (std::isnan(value_hz) || value_hz == 0)
    talk_.refuse(base::ErrorCode::bad_answer, fmt::format("no signal crosses the level at input {}", input_),
                 "look at the wiring; set the level into the middle of the signal");
  if (!(value_hz > 0 && value_hz < highest_hz))
    talk_.refuse(base::ErrorCode::bad_answer, fmt::format("the reading is no frequency ({:g})", value_hz),
                 "read again; if it stays, look at the instrument's own display");
  co_return value_hz;
}

}  // namespace

std::unique_ptr<bench::Counter> open_counter(base::Timeline& timeline, const Phrasebook& phrasebook,
                                             std::unique_ptr<transport::Session> session) {
  if (!std::holds_alternative<CounterPhrases>(phrasebook.phrases)) refuse_other_kind(phrasebook, "counter");
  return std::make_unique<PhrasebookCounter>(timeline, phrasebook, std::move(session));
}

}  // namespace eyelevel::phrasebook
