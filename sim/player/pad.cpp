// SPDX-License-Identifier: Apache-2.0
#include "sim/player/pad.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "sim/disc/kernels.hpp"

namespace eyelevel::sim {
namespace {

double share_left(double ratio) {
  const double r2 = ratio * ratio;
  const double r4 = r2 * r2;
  const double r8 = r4 * r4;
  return std::pow(1 + r8 * r8, -1.0 / 16);
}

// Saturation as straight lines; above the table's end the output is the limit to better than 1e-6.
constexpr std::size_t table_steps = 2560;
constexpr double table_end = 2.5;

struct Line {
  float value = 0;
  float slope = 0;
};

std::array<Line, table_steps + 1> make_table() {
  std::array<Line, table_steps + 1> table;
  const auto y = [](std::size_t i) {
    const double ratio = table_end * static_cast<double>(i) / static_cast<double>(table_steps);
    return ratio * share_left(ratio);
  };
  for (std::size_t i = 0; i <= table_steps; ++i)
    table[i] = {static_cast<float>(y(i)), i < table_steps ? static_cast<float>(y(i + 1) - y(i)) : 0.0F};
  return table;
}

void saturate_by_table(std::span<float> volts, double limit_v) {
  static const std::array<Line, table_steps + 1> table = make_table();
  const auto to_place = static_cast<float>(static_cast<double>(table_steps) / table_end / limit_v);
  const auto limit = static_cast<float>(limit_v);
  constexpr auto last = static_cast<float>(table_steps);
  for (float& v : volts) {
    const float place = std::min(std::abs(v) * to_place, last);
    const auto index = static_cast<std::int32_t>(place);
    const Line& line = table[static_cast<std::size_t>(index)];
    v = std::copysign(limit * (line.value + line.slope * (place - static_cast<float>(index))), v);
  }
}

// Below this share of the limit no table is needed.
constexpr float series_end = 0.8F;

// SplitMix64's output function: a counter in, 64 random bits out.
std::uint64_t mixed(std::uint64_t x) {
  x = (x ^ (x >> 30U)) * 0xBF58476D1CE4E5B9U;
  x = (x ^ (x >> 27U)) * 0x94D049BB133111EBU;
  return x ^ (x >> 31U);
}
constexpr std::uint64_t counter_step = 0x9E3779B97F4A7C15U;

}  // namespace

double saturated_v(double linear_v, double limit_v) { return linear_v * share_left(linear_v / limit_v); }

void saturate(std::span<float> volts, double limit_v) {
  if (kernels::highest_of(volts) <= series_end * static_cast<float>(limit_v))
    kernels::saturate_a_little(volts, static_cast<float>(limit_v));
  else
    saturate_by_table(volts, limit_v);
}

NoiseSource::NoiseSource(double bandwidth_hz, double rate_hz, std::uint64_t key)
    // A one-pole band of corner f passes the power of a sharp band of pi/2 f; sampling folds all of it into the record.
    : bandwidth_root_(std::sqrt(std::numbers::pi / 2 * bandwidth_hz)) {
  for (std::uint64_t i = 0; i < states_.size(); ++i)
    states_[i] = static_cast<std::uint32_t>(mixed(key + (i + 1) * counter_step) >> 32U) | 1U;
  const double keep = std::exp(-2 * std::numbers::pi * bandwidth_hz / rate_hz);
  pole_.keep = static_cast<float>(keep);
  pole_.now = static_cast<float>(std::sqrt(1 - keep * keep));
  std::array<float, lanes> first{};
  draw(first);
  pole_.output = first[0];
}

// White noise, the same however it is fetched: sums of eight random bytes, normal to 4.8 standard deviations.
void NoiseSource::fetch(std::span<float> into) {
  while (left_ > 0 && !into.empty()) {
    into.front() = spare_[lanes - left_--];
    into = into.subspan(1);
  }
  const std::size_t whole = into.size() / lanes * lanes;
  draw(into.first(whole));
  into = into.subspan(whole);
  if (into.empty()) return;
  draw(spare_);
  std::copy_n(spare_.begin(), into.size(), into.begin());
  left_ = lanes - into.size();
}

void NoiseSource::draw(std::span<float> into) {
  static const auto per_sd = static_cast<float>(1 / std::sqrt(8 * (256.0 * 256.0 - 1) / 12));
  kernels::noise_of_8(std::span(states_).first<lanes>(), std::span(states_).last<lanes>(), into, per_sd);
}

void NoiseSource::add_to(std::span<float> volts, double density_v_per_sqrt_hz) {
  const auto sd_v = static_cast<float>(density_v_per_sqrt_hz * bandwidth_root_);
  std::array<float, 512> part;
  for (std::size_t done = 0; done < volts.size();) {
    const std::size_t size = std::min(part.size(), volts.size() - done);
    const std::span<float> noise(part.data(), size);
    fetch(noise);
    kernels::run(pole_, noise);
    for (std::size_t i = 0; i < size; ++i) volts[done + i] += sd_v * noise[i];
    done += size;
  }
}

LoadedPad loaded(double source_ohm, const Load& load) {
  LoadedPad pad;
  pad.gain = load.resistance_ohm / (load.resistance_ohm + source_ohm);
  pad.time_constant_s = source_ohm * pad.gain * load.capacitance_f;  // both resistances in parallel
  return pad;
}

OnePole::OnePole(const LoadedPad& pad, double rate_hz) {
  const double step = 1 / (rate_hz * std::max(pad.time_constant_s, 1e-15));  // sample interval in time constants
  const double keep = std::exp(-step);
  const double mean_answer = -std::expm1(-step) / step;
  pole_.keep = static_cast<float>(keep);
  pole_.now = static_cast<float>(pad.gain * (1 - mean_answer));
  pole_.before = static_cast<float>(pad.gain * (mean_answer - keep));
  constexpr double forgotten = 16.2;  // exp(-16.2) is 1e-7
  warm_up_ = static_cast<std::size_t>(std::ceil(forgotten / step)) + 1;
}

void OnePole::run(std::span<float> volts) {
  if (volts.empty()) return;
  if (!begun_) {
    begun_ = true;
    pole_.input = volts.front();
    pole_.output = (pole_.now + pole_.before) / (1 - pole_.keep) * pole_.input;
  }
  kernels::run(pole_, volts);
}

}  // namespace eyelevel::sim
