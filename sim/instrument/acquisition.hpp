// SPDX-License-Identifier: Apache-2.0
// The trigger system of the simulated oscilloscope (SCPI-99 Vol. 2, ch. 24, one layer): idle, waiting for the trigger,
// taking the record. It advances when looked at; the search for an internal trigger looks at the rendered signal.
// Limit: after the first 20 ms without a trigger it sees 2 ms of every 20, so that a signal which never triggers does
// not cost the rendering of all its time; rare events may be missed then, steady ones are not.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

namespace eyelevel::sim {

enum class TriggerSource { immediate, bus, external, internal, hold };
enum class TriggerSlope { positive, negative, either };

struct TriggerSetting {
  TriggerSource source = TriggerSource::immediate;
  int channel = 1;     // of an internal source
  double level_v = 0;  // as the instrument believes, at the probe tip
  TriggerSlope slope = TriggerSlope::positive;
  double delay_s = 0;
};

struct SweepSetting {
  std::int64_t points = 1000;
  double interval_s = 1e-6;
  double reference = 0;  // place of the trigger in the record, 0 to 1
  double offset_s = 0;   // reference after the trigger
};

// First crossing of a level in evenly spaced samples, between samples by linear interpolation; index from 0. A crossing
// counts after the signal was beyond the hysteresis on the other side.
std::optional<double> first_crossing(std::span<const float> volts, double level_v, double hysteresis_v,
                                     TriggerSlope slope);

class Acquisition {
 public:
  // Renders what the trigger circuit sees: believed volts from a time on, at an interval.
  using Look = std::function<void(double start_s, double interval_s, std::span<float> volts)>;

  void begin(const SweepSetting& sweep, const TriggerSetting& trigger, double hysteresis_v, double clock, double now_s);
  void go_idle() { state_ = State::idle; }

  // Lets time pass. True when the record has just become complete.
  bool advance(double now_s, const Look& look);
  // Forces the trigger; false when nothing waits for one.
  bool force(double now_s);

  bool pending() const { return state_ != State::idle; }
  bool waiting() const { return state_ == State::waiting; }
  bool waits_for_bus() const { return waiting() && trigger_.source == TriggerSource::bus; }
  // When advancing may bring something new, seconds.
  double next_look_s(double now_s) const;
  double record_start_s() const;
  // From trigger to first sample.
  double origin_s() const { return record_start_s() - triggered_s_; }
  double true_interval_s() const { return sweep_.interval_s * clock_; }

 private:
  enum class State { idle, waiting, taking };

  double length_s() const { return static_cast<double>(sweep_.points) * true_interval_s(); }
  double before_s() const { return sweep_.reference * static_cast<double>(sweep_.points - 1) * true_interval_s(); }
  void search(double now_s, const Look& look);
  void trigger_at(double time_s);

  SweepSetting sweep_;
  TriggerSetting trigger_;
  double hysteresis_v_ = 0;
  double clock_ = 1;
  State state_ = State::idle;
  double armed_s_ = 0;  // earliest trigger that leaves room for the record's first part
  double searched_s_ = 0;
  double look_s_ = 0;  // between two looks
  double triggered_s_ = 0;
  std::vector<float> volts_;
};

}  // namespace eyelevel::sim
