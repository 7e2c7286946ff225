// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/channel_proof.hpp"

#include <fmt/format.h>

#include <cmath>

#include "core/quantity/text.hpp"

namespace eyelevel::phrasebook {
namespace {

using bench::SettingTaken;

// What an instrument may round away of a number that it was told: six digits, as it prints them.
constexpr double rounding = 1e-4;
// A span may be wider than asked by the next step of 1-2-5 and some; beyond that too few of its codes are left.
constexpr double widest = 5;
// A filter's corner is a nominal value.
constexpr double corner_tolerance = 0.1;

std::string volts(double value) { return quantity::print({value, quantity::voltage}, 5); }

}  // namespace

std::vector<SettingTaken> prove_channel(const Conversation& talk, const OscilloscopePhrases& phrases,
                                        const bench::ChannelSetting& asked, const ChannelRead& is) {
  std::vector<SettingTaken> taken;
  const auto factor = [](double value) { return fmt::format("x{:g}", value); };
  if (!(std::abs(is.probe_factor - asked.probe_factor) <= rounding * asked.probe_factor))
    talk.not_taken("probe factor", factor(asked.probe_factor), factor(is.probe_factor),
                   "does the probe tell the instrument another factor than the bench file says? look at its switch");
  taken.push_back({"probe factor", factor(asked.probe_factor), factor(is.probe_factor)});

  const bool dc = asked.coupling == bench::Coupling::dc;
  if (!means(is.coupling, dc ? phrases.dc : phrases.ac))
    talk.not_taken("coupling", dc ? "dc" : "ac", is.coupling, "set the coupling by hand and look whether it stays");
  taken.push_back({"coupling", dc ? "dc" : "ac", dc ? "dc" : "ac"});

  const double span_v = asked.high_v - asked.low_v;
  const double low_v = is.offset_v - is.range_v / 2;
  const double high_v = is.offset_v + is.range_v / 2;
  const std::string wanted = volts(asked.low_v) + " to " + volts(asked.high_v);
  const std::string shown = volts(low_v) + " to " + volts(high_v);
  const bool covers = low_v <= asked.low_v + rounding * span_v && high_v >= asked.high_v - rounding * span_v;
  if (!covers)
    talk.not_taken("screen", wanted, shown, "ask for a wider screen, or one nearer to zero: offsets have limits");
  if (!(is.range_v <= widest * span_v))
    talk.not_taken("screen", wanted, shown, "that is too wide to measure well; is the probe factor right?");
  taken.push_back({"screen", wanted, shown});

  if (phrases.bandwidth_limit.empty()) return taken;
  const auto corner = [](double hz) { return quantity::print({hz, quantity::frequency}, 4); };
  const std::string limit = asked.bandwidth_hz ? corner(*asked.bandwidth_hz) : "full";
  const std::string limited = !is.limited ? "full" : phrases.bandwidth.empty() ? "limited" : corner(is.bandwidth_hz);
  const bool corner_fits = !asked.bandwidth_hz || phrases.bandwidth.empty() ||
                           std::abs(is.bandwidth_hz - *asked.bandwidth_hz) <= corner_tolerance * *asked.bandwidth_hz;
  if (is.limited != asked.bandwidth_hz.has_value() || !corner_fits)
    talk.not_taken("bandwidth", limit, limited, "ask for a bandwidth that the instrument has");
  taken.push_back({"bandwidth", limit, limited});
  return taken;
}

}  // namespace eyelevel::phrasebook
