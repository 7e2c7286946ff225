// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/oscilloscope.hpp"

#include <fmt/format.h>

#include <cmath>
#include <map>
#include <optional>
#include <utility>

#include "core/base/error.hpp"
#include "core/quantity/text.hpp"
#include "instruments/phrasebook/channel_proof.hpp"
#include "instruments/phrasebook/conversation.hpp"
#include "instruments/phrasebook/numbered.hpp"
#include "instruments/phrasebook/waveform_transfer.hpp"

namespace eyelevel::phrasebook {
namespace {

using bench::SettingTaken;
using scpi::ProgramBuilder;
using scpi::ResponseReader;

// What an instrument may round away of a number that it was told: six digits, as it prints them.
constexpr double rounding = 1e-4;
// Samples this near to the end of the span, as a share of it, are clipped: float rounding against codes of 16 bits.
constexpr double end_margin = 1e-5;
constexpr double most_points = 1e9;
// Of the time for a triggered capture, for asking why it did not come.
constexpr base::Duration most_left_to_ask = std::chrono::milliseconds(500);

std::string volts(double value) { return quantity::print({value, quantity::voltage}, 5); }
std::string seconds(double value) { return quantity::print({value, quantity::time}, 6); }

class PhrasebookOscilloscope final : public bench::Oscilloscope {
 public:
  PhrasebookOscilloscope(base::Timeline& timeline, Phrasebook book, std::unique_ptr<transport::Session> session)
      : talk_(timeline, std::move(session), book.common),
        phrases_(std::get<OscilloscopePhrases>(book.phrases)),
        channels_(book.channels) {}

  task<std::string> greet(base::Duration within) override;
  task<> make_safe(base::Duration within) override;
  void close() noexcept override { talk_.close(); }
  task<std::optional<int>> self_test(base::Duration within) override { return talk_.self_test(talk_.deadline(within)); }
  task<bench::OscilloscopeAbility> ability(base::Duration within) override;
  task<std::vector<SettingTaken>> set_up(int channel, const bench::ChannelSetting& setting,
                                         base::Duration within) override;
  task<signal::Waveform> capture(const bench::Acquisition& acquisition, base::Duration within) override;
  void give_back(signal::Waveform waveform) override { transfer_.give_back(std::move(waveform.codes)); }

 private:
  // A sweep that was set and read back.
  struct Sweep {
    bench::Acquisition asked;
    double interval_s = 0;
    std::int64_t points = 0;
  };

  task<ChannelRead> read_channel(int channel, Deadline deadline);
  void add_bandwidth(ProgramBuilder& tell, int channel, const bench::ChannelSetting& setting) const;
  task<> set_sweep(bench::Acquisition acquisition, Deadline deadline);
  task<> set_points(std::int64_t points, double rate_hz, Deadline deadline);
  task<> acquire(const bench::Acquisition& wanted, Deadline deadline);
  ProgramBuilder sweep_commands(const bench::Acquisition& acquisition) const;
  bool is_set(const bench::Acquisition& acquisition) const;

  Conversation talk_;
  OscilloscopePhrases phrases_;
  int channels_;
  std::map<int, signal::Screen> screens_;  // of the channels that were set up
  std::optional<Sweep> sweep_;             // empty: unknown, set it again
  double interval_s_ = 0;
  std::int64_t points_ = 0;
  WaveformTransfer transfer_{talk_, phrases_};
};

task<std::string> PhrasebookOscilloscope::greet(base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  sweep_.reset();
  screens_.clear();
  std::string identity = co_await talk_.greet(deadline);
  co_await transfer_.agree(deadline);
  co_return identity;
}

task<> PhrasebookOscilloscope::make_safe(base::Duration within) {
  sweep_.reset();
  co_await talk_.make_safe(talk_.deadline(within));
}

task<bench::OscilloscopeAbility> PhrasebookOscilloscope::ability(base::Duration within) {
  const WaveformLayout& layout = phrases_.layout;
  if (layout.points_most > 0 && layout.rate_hz_most > 0)
    co_return bench::OscilloscopeAbility{channels_, layout.rate_hz_most, layout.points_most};
  ProgramBuilder ask;
  ask.query(phrases_.interval).word("MINimum");
  ask.query(phrases_.points).word("MAXimum");
  double interval_s = 0;
  double points = 0;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        interval_s = answer.number();
        answer.next_unit();
        points = answer.number();
      },
      talk_.deadline(within));
  if (!(interval_s > 0 && interval_s < 1e3 && points >= 1 && points <= most_points))
    talk_.refuse(base::ErrorCode::bad_answer, "least interval and most points are no possible values",
                 "is this the right phrasebook for the instrument?");
  if (layout.rate_hz_most > 0) interval_s = 1 / layout.rate_hz_most;
  if (layout.points_most > 0) points = static_cast<double>(layout.points_most);
  co_return bench::OscilloscopeAbility{channels_, 1 / interval_s, std::llround(points)};
}

void PhrasebookOscilloscope::add_bandwidth(ProgramBuilder& tell, int channel,
                                           const bench::ChannelSetting& setting) const {
  const bool can = !phrases_.bandwidth_limit.empty();
  if (!can && setting.bandwidth_hz)
    talk_.refuse(base::ErrorCode::bad_input, "the phrasebook has no words for a bandwidth limit",
                 "leave the bandwidth limit out of the sequence");
  if (!can) return;
  if (setting.bandwidth_hz && !phrases_.bandwidth.empty())
    command(tell, phrases_.bandwidth, channel).number(*setting.bandwidth_hz);
  command(tell, phrases_.bandwidth_limit, channel).boolean(setting.bandwidth_hz.has_value());
}

task<std::vector<SettingTaken>> PhrasebookOscilloscope::set_up(int channel, const bench::ChannelSetting& setting,
                                                               base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  screens_.erase(channel);
  ProgramBuilder tell;
  // The factor first: range and offset are at the probe tip and move with it.
  command(tell, phrases_.probe_factor, channel).number(setting.probe_factor);
  command(tell, phrases_.coupling, channel).word(setting.coupling == bench::Coupling::dc ? phrases_.dc : phrases_.ac);
  command(tell, phrases_.range, channel).number(setting.high_v - setting.low_v);
  command(tell, phrases_.offset, channel).number((setting.high_v + setting.low_v) / 2);
  add_bandwidth(tell, channel, setting);
  co_await talk_.tell(tell, deadline);
  co_await talk_.pause(phrases_.layout.pause, deadline);
  const ChannelRead is = co_await read_channel(channel, deadline);
  std::vector<SettingTaken> taken = prove_channel(talk_, phrases_, setting, is);
  const double margin_v = end_margin * is.range_v;
  screens_[channel] = {is.offset_v - is.range_v / 2 + margin_v, is.offset_v + is.range_v / 2 - margin_v};
  co_return taken;
}

task<ChannelRead> PhrasebookOscilloscope::read_channel(int channel, Deadline deadline) {
  const bool has_limit = !phrases_.bandwidth_limit.empty();
  const bool has_corner = has_limit && !phrases_.bandwidth.empty();
  ProgramBuilder ask;
  query(ask, phrases_.probe_factor, channel);
  query(ask, phrases_.coupling, channel);
  query(ask, phrases_.range, channel);
  query(ask, phrases_.offset, channel);
  if (has_limit) query(ask, phrases_.bandwidth_limit, channel);
  if (has_corner) query(ask, phrases_.bandwidth, channel);
  ChannelRead is;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        is.probe_factor = answer.number();
        answer.next_unit();
        is.coupling = answer.character();
        answer.next_unit();
        is.range_v = answer.number();
        answer.next_unit();
        is.offset_v = answer.number();
        if (has_limit) {
          answer.next_unit();
          is.limited = answer.boolean();
        }
        if (has_corner) {
          answer.next_unit();
          is.bandwidth_hz = answer.number();
        }
      },
      deadline);
  co_return is;
}

bool PhrasebookOscilloscope::is_set(const bench::Acquisition& a) const {
  if (!sweep_) return false;
  const bench::Acquisition& b = sweep_->asked;
  const bool same_trigger =
      a.trigger.has_value() == b.trigger.has_value() &&
      (!a.trigger || (a.trigger->level_v == b.trigger->level_v && a.trigger->edge == b.trigger->edge));
  return a.channel == b.channel && a.duration_s == b.duration_s && a.rate_hz == b.rate_hz && same_trigger;
}

ProgramBuilder PhrasebookOscilloscope::sweep_commands(const bench::Acquisition& acquisition) const {
  ProgramBuilder tell;
  tell.command(talk_.phrases().stop);  // whatever an earlier fault left running
  if (!phrases_.measured_signal.empty())
    tell.command(phrases_.measured_signal).string(spoken(phrases_.signal_of_channel, acquisition.channel));
  if (!phrases_.data_source.empty())
    tell.command(phrases_.data_source).word(spoken(phrases_.source_of_channel, acquisition.channel));
  tell.command(phrases_.interval).number(1 / acquisition.rate_hz);
  if (acquisition.trigger) {
    tell.command(phrases_.trigger_source).word(spoken(phrases_.own_channel, acquisition.channel));
    tell.command(phrases_.trigger_level).number(acquisition.trigger->level_v);
    tell.command(phrases_.trigger_slope)
        .word(acquisition.trigger->edge == bench::Edge::rising ? phrases_.rising : phrases_.falling);
  } else {
    tell.command(phrases_.trigger_source).word(phrases_.at_once);
  }
  return tell;
}

task<> PhrasebookOscilloscope::set_sweep(bench::Acquisition acquisition, Deadline deadline) {
  sweep_.reset();
  co_await talk_.tell(sweep_commands(acquisition), deadline);
  co_await talk_.pause(phrases_.layout.pause, deadline);
  const bool has_signal = !phrases_.measured_signal.empty();
  const bool has_source = !phrases_.data_source.empty();
  ProgramBuilder ask;
  if (has_signal) ask.query(phrases_.measured_signal);
  if (has_source) ask.query(phrases_.data_source);
  ask.query(phrases_.interval).query(phrases_.trigger_source);
  if (acquisition.trigger) ask.query(phrases_.trigger_level).query(phrases_.trigger_slope);
  std::string sensed;
  std::string sent;
  std::string source;
  std::string slope;
  double level_v = 0;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        if (has_signal) {
          sensed = answer.string();
          answer.next_unit();
        }
        if (has_source) {
          sent = answer.character();
          answer.next_unit();
        }
        interval_s_ = answer.number();
        answer.next_unit();
        source = answer.character();
        if (!acquisition.trigger) return;
        answer.next_unit();
        level_v = answer.number();
        answer.next_unit();
        slope = answer.character();
      },
      deadline);
  const int channel = acquisition.channel;
  if (has_source && !means(sent, phrases_.source_of_channel, channel))
    talk_.not_taken("data source", fmt::format("channel {}", channel), sent, "has the instrument this channel?");
  if (has_signal && !means(sensed, phrases_.signal_of_channel, channel))
    talk_.not_taken("measured signal", fmt::format("channel {}", channel), sensed, "has the instrument this channel?");
  if (!(interval_s_ > 0 && interval_s_ * acquisition.rate_hz <= 1 + rounding))
    talk_.not_taken("sample rate", "at least " + quantity::print({acquisition.rate_hz, quantity::sample_rate}),
                    "an interval of " + seconds(interval_s_), "ask for a lower rate or a shorter capture");
  const std::string wanted_source = acquisition.trigger ? fmt::format("channel {}", channel) : "at once";
  const bool source_fits =
      acquisition.trigger ? means(source, phrases_.own_channel, channel) : means(source, phrases_.at_once);
  if (!source_fits)
    talk_.not_taken("trigger source", wanted_source, source, "set the trigger by hand and look whether it stays");
  if (acquisition.trigger) {
    const double asked_v = acquisition.trigger->level_v;
    const auto screen = screens_.at(channel);
    // A trigger level is set in steps of the screen's height.
    if (!(std::abs(level_v - asked_v) <= 0.02 * (screen.high_v - screen.low_v)))
      talk_.not_taken("trigger level", volts(asked_v), volts(level_v), "does the level lie inside the screen?");
    const bool rising = acquisition.trigger->edge == bench::Edge::rising;
    if (!means(slope, rising ? phrases_.rising : phrases_.falling))
      talk_.not_taken("trigger slope", rising ? "rising" : "falling", slope,
                      "set the trigger by hand and look whether it stays");
  }
  const double points = std::ceil(acquisition.duration_s / interval_s_ * (1 - 1e-9));
  if (!(points >= 2 && points <= most_points))
    talk_.refuse(base::ErrorCode::bad_input,
                 fmt::format("{} at {} are {:g} points", seconds(acquisition.duration_s),
                             quantity::print({1 / interval_s_, quantity::sample_rate}), points),
                 "ask for a capture of 2 to 1000000000 points");
  co_await set_points(static_cast<std::int64_t>(points), acquisition.rate_hz, deadline);
  sweep_ = Sweep{acquisition, interval_s_, points_};
}

task<> PhrasebookOscilloscope::set_points(std::int64_t points, double rate_hz, Deadline deadline) {
  ProgramBuilder tell;
  co_await talk_.tell(tell.command(phrases_.points).integer(points), deadline);
  co_await talk_.pause(phrases_.layout.pause, deadline);
  ProgramBuilder ask;
  ask.query(phrases_.points).query(phrases_.interval);
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        const double told = answer.number();
        points_ = std::isnan(told) ? 0 : std::llround(std::clamp(told, 0.0, most_points));
        answer.next_unit();
        interval_s_ = answer.number();
      },
      deadline);
  const auto samples = [](std::int64_t n) { return quantity::print({static_cast<double>(n), quantity::samples}); };
  if (points_ < points)
    talk_.not_taken("memory", samples(points), samples(points_), "ask for a shorter capture or a lower rate");
  if (points_ > 2 * points + 1000)
    talk_.not_taken("memory", samples(points), samples(points_), "is this the right phrasebook for the instrument?");
  if (!(interval_s_ > 0 && interval_s_ * rate_hz <= 1 + rounding))
    talk_.not_taken("sample rate", "at least " + quantity::print({rate_hz, quantity::sample_rate}),
                    "an interval of " + seconds(interval_s_), "the memory does not reach: ask for a shorter capture");
}

// Starts and waits for the end. A trigger that never comes and an instrument that is silent look alike until it is
// asked something else, for which a part of the time is left.
task<> PhrasebookOscilloscope::acquire(const bench::Acquisition& wanted, Deadline deadline) {
  ProgramBuilder start;
  start.command(phrases_.start).query(talk_.phrases().completed);
  const auto left_to_ask = wanted.trigger ? std::min(deadline.left() / 10, most_left_to_ask) : base::Duration(0);
  std::optional<base::ErrorRecord> late;
  try {
    co_await talk_.wait_for(start, "the capture was not completed",
                            wanted.trigger ? "is the disc still turning? does the trigger level lie inside the signal?"
                                           : "is the instrument still on and idle?",
                            {talk_.timeline(), deadline.end - left_to_ask});
  } catch (const base::Error& error) {
    if (!wanted.trigger || error.record().code != base::ErrorCode::time_out) throw;
    late = error.record();
  }
  if (!late) co_return;
  if (co_await talk_.answers(deadline)) {
    late->code = base::ErrorCode::wait_ran_out;
    late->message = fmt::format("no trigger came within {:.2f} s, and the instrument answers: channel {} did not {} {}",
                                late->elapsed_s.value_or(0), wanted.channel,
                                wanted.trigger->edge == bench::Edge::rising ? "rise through" : "fall through",
                                volts(wanted.trigger->level_v));
  }
  throw base::Error(std::move(*late));
}

task<signal::Waveform> PhrasebookOscilloscope::capture(const bench::Acquisition& acquisition, base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  const bench::Acquisition wanted = acquisition;
  if (!screens_.contains(wanted.channel))
    talk_.refuse(base::ErrorCode::bad_input,
                 fmt::format("channel {} was not set up before the capture", wanted.channel),
                 "put a set up for this signal into the opening");
  if (!is_set(wanted)) co_await set_sweep(wanted, deadline);
  const Sweep sweep = *std::exchange(sweep_, std::nullopt);  // known again only if all goes well

  signal::Waveform waveform;
  waveform.rate_hz = 1 / sweep.interval_s;
  waveform.screen = screens_.at(wanted.channel);
  waveform.start_s = base::to_seconds(talk_.timeline().now());
  co_await acquire(wanted, deadline);
  co_await transfer_.fetch({wanted.channel, sweep.points, sweep.interval_s}, waveform, deadline);
  sweep_ = sweep;
  co_return waveform;
}

}  // namespace

std::unique_ptr<bench::Oscilloscope> open_oscilloscope(base::Timeline& timeline, const Phrasebook& phrasebook,
                                                       std::unique_ptr<transport::Session> session) {
  if (!std::holds_alternative<OscilloscopePhrases>(phrasebook.phrases)) refuse_other_kind(phrasebook, "oscilloscope");
  return std::make_unique<PhrasebookOscilloscope>(timeline, phrasebook, std::move(session));
}

}  // namespace eyelevel::phrasebook
