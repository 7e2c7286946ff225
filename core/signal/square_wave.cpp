// SPDX-License-Identifier: Apache-2.0
#include "core/signal/square_wave.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "core/base/error.hpp"
#include "core/signal/state_levels.hpp"

namespace eyelevel::signal {

namespace {

constexpr double settled_from = 0.80;
constexpr double early_from = 0.01;
constexpr double early_until = 0.03;
constexpr double samples_least = 100;
constexpr double hysteresis = 0.2;  // of the height, on both sides of the middle

[[noreturn]] void refuse(std::string message) {
  throw base::Error(base::ErrorCode::bad_input, std::move(message),
                    "is the input on the square wave, and is a whole period in the record?");
}

struct Crossing {
  double at = 0;  // in samples, between two
  bool rising = false;
};

std::vector<Crossing> crossings(const WaveformView& waveform, const StateLevels& levels) {
  const double middle = levels.reference_v(0.5);
  const double low = levels.reference_v(0.5 - hysteresis), high = levels.reference_v(0.5 + hysteresis);
  std::vector<Crossing> all;
  double last = 0;  // where the middle was last crossed
  int state = 0;    // -1 low, 1 high, 0 not known yet
  for (std::size_t i = 0; i < waveform.size(); ++i) {
    const double v = waveform.volts(i);
    if (i > 0) {
      const double before = waveform.volts(i - 1);
      if ((before < middle) != (v < middle)) last = static_cast<double>(i) - (v - middle) / (v - before);
    }
    const int now = v < low ? -1 : v > high ? 1 : state;
    if (state != 0 && now != state) all.push_back({last, now > 0});
    state = now;
  }
  return all;
}

class Mean {
 public:
  void push(const WaveformView& waveform, double from, double until) {
    for (auto i = static_cast<std::size_t>(from) + 1; i < static_cast<std::size_t>(until); ++i) {
      sum_ += waveform.volts(i);
      ++count_;
    }
  }
  double value() const { return sum_ / static_cast<double>(count_); }
  std::size_t count() const { return count_; }

 private:
  double sum_ = 0;
  std::size_t count_ = 0;
};

void take_frequency(SquareWave& wave, const std::vector<Crossing>& all, double rate_hz) {
  std::vector<double> rising;
  for (const Crossing& c : all)
    if (c.rising) rising.push_back(c.at);
  if (rising.size() < 2) return;
  wave.span_s = (rising.back() - rising.front()) / rate_hz;
  wave.frequency_hz = static_cast<double>(rising.size() - 1) / wave.span_s;
}

}  // namespace

SquareWave square_wave_of(const WaveformView& waveform) {
  const StateLevels levels = state_levels_by_mode(waveform);
  const auto all = crossings(waveform, levels);
  SquareWave wave;
  Mean high, low, early;
  for (std::size_t i = 0; i + 1 < all.size(); ++i) {
    const double from = all[i].at, length = all[i + 1].at - from;
    if (length < samples_least)
      refuse(fmt::format("a half wave of {:.0f} samples is too short to look at, {:g} are the least", length,
                         samples_least));
    (all[i].rising ? high : low).push(waveform, from + settled_from * length, from + length - 1);
    if (!all[i].rising) continue;
    early.push(waveform, from + early_from * length, from + early_until * length);
    ++wave.tops;
  }
  if (wave.tops == 0 || low.count() == 0) refuse("there is no whole square wave in the record");
  wave.low_v = low.value();
  wave.high_v = high.value();
  wave.early_share = (early.value() - wave.high_v) / wave.height_v();
  wave.settled_samples = std::min(high.count(), low.count());
  wave.early_samples = early.count();
  take_frequency(wave, all, waveform.rate_hz);
  return wave;
}

}  // namespace eyelevel::signal
