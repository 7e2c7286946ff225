// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/multimeter.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "core/base/error.hpp"
#include "core/quantity/text.hpp"
#include "instruments/phrasebook/conversation.hpp"

namespace eyelevel::phrasebook {
namespace {

using bench::SettingTaken;
using scpi::ProgramBuilder;
using scpi::ResponseReader;

constexpr double rounding = 1e-4;
// Apertures come in line cycles: the nearest may be off by some.
constexpr double aperture_tolerance = 0.25;

class PhrasebookMultimeter final : public bench::Multimeter {
 public:
  PhrasebookMultimeter(base::Timeline& timeline, Phrasebook book, std::unique_ptr<transport::Session> session)
      : talk_(timeline, std::move(session), book.common), phrases_(std::get<MultimeterPhrases>(book.phrases)) {}

  task<std::string> greet(base::Duration within) override { return talk_.greet(talk_.deadline(within)); }
  task<> make_safe(base::Duration within) override { return talk_.make_safe(talk_.deadline(within)); }
  void close() noexcept override { talk_.close(); }
  task<std::optional<int>> self_test(base::Duration within) override { return talk_.self_test(talk_.deadline(within)); }
  task<std::vector<SettingTaken>> set_up_dc(const bench::DcSetting& setting, base::Duration within) override;
  task<double> read_dc(base::Duration within) override;

 private:
  Conversation talk_;
  MultimeterPhrases phrases_;
  double range_v_ = 0;  // as read back; 0: not set up
};

task<std::vector<SettingTaken>> PhrasebookMultimeter::set_up_dc(const bench::DcSetting& setting,
                                                                base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  const bench::DcSetting asked = setting;
  range_v_ = 0;
  ProgramBuilder tell;
  tell.command(talk_.phrases().stop);
  tell.command(phrases_.measured_quantity).string(spoken(phrases_.dc_voltage));
  tell.command(phrases_.range).number(asked.range_v);
  if (asked.aperture_s > 0) tell.command(phrases_.aperture).number(asked.aperture_s);
  tell.command(phrases_.trigger_source).word(phrases_.at_once);
  co_await talk_.tell(tell, deadline);

  ProgramBuilder ask;
  ask.query(phrases_.measured_quantity).query(phrases_.range).query(phrases_.aperture).query(phrases_.trigger_source);
  std::string quantity_read;
  std::string source;
  double range_v = 0;
  double aperture_s = 0;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        quantity_read = answer.string();
        answer.next_unit();
        range_v = answer.number();
        answer.next_unit();
        aperture_s = answer.number();
        answer.next_unit();
        source = answer.character();
      },
      deadline);
  const auto volts = [](double value) { return quantity::print({value, quantity::voltage}, 5); };
  const auto seconds = [](double value) { return quantity::print({value, quantity::time}, 4); };
  std::vector<SettingTaken> taken;
  if (!means(quantity_read, phrases_.dc_voltage))
    talk_.not_taken("measured quantity", "d.c. volts", quantity_read,
                    "is this the right phrasebook for the instrument?");
  taken.push_back({"measured quantity", "d.c. volts", "d.c. volts"});
  if (!(range_v >= asked.range_v * (1 - rounding)))
    talk_.not_taken("range", volts(asked.range_v), volts(range_v), "ask for a range that the instrument has");
  taken.push_back({"range", volts(asked.range_v), volts(range_v)});
  const bool aperture_fits =
      asked.aperture_s <= 0 || std::abs(aperture_s - asked.aperture_s) <= aperture_tolerance * asked.aperture_s;
  const std::string aperture = asked.aperture_s > 0 ? seconds(asked.aperture_s) : "any";
  if (!aperture_fits)
    talk_.not_taken("aperture", aperture, seconds(aperture_s), "ask for an aperture that the instrument has");
  taken.push_back({"aperture", aperture, seconds(aperture_s)});
  if (!means(source, phrases_.at_once))
    talk_.not_taken("trigger source", "at once", source, "set the trigger by hand and look whether it stays");
  taken.push_back({"trigger source", "at once", "at once"});
  range_v_ = range_v;
  co_return taken;
}

task<double> PhrasebookMultimeter::read_dc(base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  if (range_v_ <= 0)
    talk_.refuse(base::ErrorCode::bad_input, "the multimeter was not set up before the reading",
                 "put a set up for it into the opening");
  ProgramBuilder ask;
  ask.query(phrases_.read);
  double value_v = 0;
  co_await talk_.ask(std::move(ask), [&](ResponseReader& answer) { value_v = answer.number(); }, deadline);
  if (std::isinf(value_v))
    talk_.refuse(base::ErrorCode::bad_answer,
                 fmt::format("overload: more than the range of {}", quantity::print({range_v_, quantity::voltage}, 5)),
                 "set a larger range, and look at the wiring");
  if (!std::isfinite(value_v) || std::abs(value_v) > 1e4)
    talk_.refuse(base::ErrorCode::bad_answer, fmt::format("the reading is no voltage ({:g})", value_v),
                 "read again; if it stays, look at the instrument's own display");
  co_return value_v;
}

}  // namespace

std::unique_ptr<bench::Multimeter> open_multimeter(base::Timeline& timeline, const Phrasebook& phrasebook,
                                                   std::unique_ptr<transport::Session> session) {
  if (!std::holds_alternative<MultimeterPhrases>(phrasebook.phrases)) refuse_other_kind(phrasebook, "multimeter");
  return std::make_unique<PhrasebookMultimeter>(timeline, phrasebook, std::move(session));
}

}  // namespace eyelevel::phrasebook
