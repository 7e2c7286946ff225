// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/generated_signal.hpp"

#include <cmath>
#include <numbers>

namespace eyelevel::sim {
namespace {

constexpr std::size_t most_changes = 1000;
constexpr int samples_of_a_mean = 10'000;

// -1 to 1, with the phase in turns; all begin at 0 and rise.
double wave(GeneratorSetting::Shape shape, double turns) {
  const double phase = turns - std::floor(turns);
  switch (shape) {
    case GeneratorSetting::Shape::square: return phase < 0.5 ? 1 : -1;
    case GeneratorSetting::Shape::triangle:
      return phase < 0.25 ? 4 * phase : phase < 0.75 ? 2 - 4 * phase : 4 * phase - 4;
    case GeneratorSetting::Shape::sine: break;
  }
  return std::sin(2 * std::numbers::pi * phase);
}

}  // namespace

void GeneratedSignal::set(const GeneratorSetting& setting, double now_s) {
  history_.push_back({now_s, setting});
  if (history_.size() > most_changes) history_.pop_front();
}

const GeneratedSignal::Change& GeneratedSignal::at(double time_s) const {
  for (auto it = history_.rbegin(); it != history_.rend(); ++it)
    if (it->from_s <= time_s) return *it;
  return history_.front();
}

double GeneratedSignal::value_v(const Change& change, double time_s) const {
  const GeneratorSetting& s = change.setting;
  if (!s.on) return 0;
  const double turns = (time_s - change.from_s) * s.frequency_hz * frequency_factor_;
  return s.offset_v + amplitude_factor_ * s.peak_to_peak_v / 2 * wave(s.shape, turns);
}

double GeneratedSignal::voltage_v(double time_s) const { return value_v(at(time_s), time_s); }

void GeneratedSignal::render(double start_s, double rate_hz, std::span<float> volts, const Load&) {
  for (std::size_t i = 0; i < volts.size(); ++i)
    volts[i] = static_cast<float>(voltage_v(start_s + static_cast<double>(i) / rate_hz));
}

double GeneratedSignal::mean_v(double from_s, double until_s, const Load&) {
  double sum = 0;
  for (int i = 0; i < samples_of_a_mean; ++i)
    sum += voltage_v(from_s + (until_s - from_s) * (i + 0.5) / samples_of_a_mean);
  return sum / samples_of_a_mean;
}

}  // namespace eyelevel::sim
