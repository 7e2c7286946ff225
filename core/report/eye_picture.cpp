// SPDX-License-Identifier: Apache-2.0
#include "core/report/eye_picture.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <utility>

namespace eyelevel::report {

namespace {

constexpr std::size_t columns_per_bit = 60;
constexpr std::size_t rows_most = 400;
constexpr std::size_t crossings_per_block = 48;
constexpr std::size_t crossings_least = 8;

// Where the capture passes the slice level, in samples, by straight lines between them.
std::vector<double> crossings(const signal::WaveformView& capture, double slice_v) {
  std::vector<double> list;
  double before = capture.size() > 0 ? capture.volts(0) - slice_v : 0;
  for (std::size_t i = 1; i < capture.size(); ++i) {
    const double now = capture.volts(i) - slice_v;
    if ((before < 0) != (now < 0)) list.push_back(static_cast<double>(i) - now / (now - before));
    before = now;
  }
  return list;
}

// Phase of the channel bit (in bits, unwrapped) at some moments of the capture (in samples).
struct PhaseTrack {
  std::vector<double> at;
  std::vector<double> phase;

  double operator()(double sample, std::size_t& hint) const {
    while (hint + 2 < at.size() && at[hint + 1] < sample) ++hint;
    if (at.size() == 1 || sample <= at.front()) return phase.front();
    if (sample >= at.back()) return phase.back();
    const double share = (sample - at[hint]) / (at[hint + 1] - at[hint]);
    return phase[hint] + share * (phase[hint + 1] - phase[hint]);
  }
};

PhaseTrack track_phase(const std::vector<double>& crossing, double samples_per_bit) {
  PhaseTrack track;
  const std::size_t blocks = std::max<std::size_t>(1, crossing.size() / crossings_per_block);
  for (std::size_t b = 0; b < blocks; ++b) {
    const std::size_t from = b * crossing.size() / blocks;
    const std::size_t until = (b + 1) * crossing.size() / blocks;
    std::complex<double> sum = 0;
    double centre = 0;
    for (std::size_t i = from; i < until; ++i) {
      sum += std::polar(1.0, 2 * std::numbers::pi * crossing[i] / samples_per_bit);
      centre += crossing[i];
    }
    double phase = std::arg(sum) / (2 * std::numbers::pi);
    if (!track.phase.empty()) phase += std::round(track.phase.back() - phase);
    track.at.push_back(centre / static_cast<double>(until - from));
    track.phase.push_back(phase);
  }
  return track;
}

}  // namespace

std::uint32_t EyePicture::dense_count() const {
  std::vector<std::uint32_t> filled;
  for (const std::uint32_t count : counts) {
    if (count > 0) filled.push_back(count);
  }
  if (filled.empty()) return 1;
  const auto place = filled.begin() + static_cast<std::ptrdiff_t>(filled.size() * 99 / 100);
  std::nth_element(filled.begin(), place, filled.end());
  return *place;
}

EyeFolder::EyeFolder(double low_v, double high_v, double step_v) {
  const double span = std::max(high_v - low_v, 1e-9);
  // Rows hold whole codes: a row more or less filled by its share of codes would show as stripes.
  const double whole = std::max(1.0, std::ceil(span / static_cast<double>(rows_most) / step_v));
  picture_.step_v = step_v * whole;
  picture_.low_v = low_v;
  picture_.rows = static_cast<std::size_t>(std::ceil(span / picture_.step_v));
  picture_.columns = columns_per_bit;
  reset();
}

void EyeFolder::reset() {
  picture_.counts.assign(picture_.rows * picture_.columns, 0);
  picture_.histogram.assign(picture_.rows, 0);
  picture_.folded = 0;
  picture_.captures = 0;
}

std::size_t EyeFolder::row_of(double volts) const {
  const double row = std::floor((volts - picture_.low_v) / picture_.step_v);
  return row >= 0 && row < static_cast<double>(picture_.rows) ? static_cast<std::size_t>(row) : picture_.rows;
}

void EyeFolder::push(const signal::WaveformView& capture) {
  for (std::size_t i = 0; i < capture.size(); ++i) {
    const std::size_t row = row_of(capture.volts(i));
    if (row < picture_.rows) ++picture_.histogram[row];
  }
}

void EyeFolder::push(const signal::WaveformView& capture, const EyeClock& clock) {
  push(capture);
  const double samples_per_bit = capture.rate_hz / clock.channel_rate_hz;
  const auto crossing = crossings(capture, clock.slice_v);
  if (crossing.size() < crossings_least || !(samples_per_bit > 0)) return;
  const PhaseTrack phase = track_phase(crossing, samples_per_bit);
  std::size_t hint = 0;
  for (std::size_t i = 0; i < capture.size(); ++i) {
    const std::size_t row = row_of(capture.volts(i));
    if (row >= picture_.rows) continue;
    const double sample = static_cast<double>(i);
    const double bit = sample / samples_per_bit - phase(sample, hint);
    const double place = (bit - std::floor(bit)) * static_cast<double>(picture_.columns);
    const std::size_t column = std::min(static_cast<std::size_t>(place), picture_.columns - 1);
    ++picture_.counts[row * picture_.columns + column];
    ++picture_.folded;
  }
  ++picture_.captures;
}

}  // namespace eyelevel::report
