// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/acquisition.hpp"

#include <algorithm>
#include <cmath>

namespace eyelevel::sim {
namespace {

constexpr double first_look_s = 100e-6;
constexpr double longest_look_s = 20e-3;
constexpr double seen_of_a_look_s = 2e-3;
constexpr double search_interval_s = 50e-9;  // the trigger circuit is at least so fast, however slow the sweep
constexpr double bus_look_s = 10e-3;

}  // namespace

std::optional<double> first_crossing(std::span<const float> volts, double level_v, double hysteresis_v,
                                     TriggerSlope slope) {
  const auto level = static_cast<float>(level_v);
  const auto low = static_cast<float>(level_v - hysteresis_v);
  const auto high = static_cast<float>(level_v + hysteresis_v);
  bool from_below = false;
  bool from_above = false;
  for (std::size_t i = 0; i < volts.size(); ++i) {
    const float v = volts[i];
    const bool rising = from_below && v >= level && slope != TriggerSlope::negative;
    const bool falling = from_above && v <= level && slope != TriggerSlope::positive;
    if (rising || falling) {
      const float before = volts[i - 1];
      const float step = v - before;
      return static_cast<double>(i) - (step == 0 ? 0 : static_cast<double>((v - level) / step));
    }
    if (v < low) {
      from_below = true;
      from_above = false;
    } else if (v > high) {
      from_above = true;
      from_below = false;
    }
  }
  return std::nullopt;
}

void Acquisition::begin(const SweepSetting& sweep, const TriggerSetting& trigger, double hysteresis_v, double clock,
                        double now_s) {
  sweep_ = sweep;
  trigger_ = trigger;
  hysteresis_v_ = hysteresis_v;
  clock_ = clock;
  state_ = State::waiting;
  // The record's first part must lie behind the beginning.
  armed_s_ = now_s + std::max(0.0, before_s() - sweep_.offset_s - trigger_.delay_s);
  searched_s_ = armed_s_;
  look_s_ = first_look_s;
  if (trigger_.source == TriggerSource::immediate) trigger_at(armed_s_);
}

void Acquisition::trigger_at(double time_s) {
  triggered_s_ = time_s;
  state_ = State::taking;
}

double Acquisition::record_start_s() const { return triggered_s_ + trigger_.delay_s + sweep_.offset_s - before_s(); }

bool Acquisition::force(double now_s) {
  if (state_ != State::waiting) return false;
  trigger_at(std::max(now_s, armed_s_));
  return true;
}

void Acquisition::search(double now_s, const Look& look) {
  const double interval_s = std::min(sweep_.interval_s, search_interval_s);
  const bool all_so_far = now_s - armed_s_ <= longest_look_s;
  const double from_s = all_so_far ? searched_s_ : std::max(searched_s_, now_s - seen_of_a_look_s);
  const auto count = static_cast<std::size_t>(std::max(0.0, std::floor((now_s - from_s) / interval_s)));
  if (count < 2) return;
  volts_.resize(count);
  look(from_s, interval_s, volts_);
  searched_s_ = now_s;
  if (const auto index = first_crossing(volts_, trigger_.level_v, hysteresis_v_, trigger_.slope))
    trigger_at(from_s + *index * interval_s);
  look_s_ = std::min(2 * look_s_, longest_look_s);
}

bool Acquisition::advance(double now_s, const Look& look) {
  if (state_ == State::waiting && trigger_.source == TriggerSource::internal && now_s > searched_s_)
    search(now_s, look);
  // Nanosecond steps of the Timeline against seconds as a double.
  if (state_ == State::taking && now_s >= record_start_s() + length_s() - 1e-12) {
    state_ = State::idle;
    return true;
  }
  return false;
}

double Acquisition::next_look_s(double now_s) const {
  if (state_ == State::taking) return record_start_s() + length_s() + 1e-9;
  if (state_ == State::waiting && trigger_.source == TriggerSource::internal) return searched_s_ + look_s_;
  return now_s + bus_look_s;
}

}  // namespace eyelevel::sim
