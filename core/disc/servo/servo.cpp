// SPDX-License-Identifier: Apache-2.0
#include "core/disc/servo/servo.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "core/disc/clock/smooth.hpp"
#include "core/disc/clock/survey.hpp"

namespace eyelevel::disc::servo {
namespace {

constexpr double low_pass_s = 15e-6;

// The low-passed record in volts; empty if there is nothing to look at.
std::vector<float> smooth_volts(const signal::WaveformView& wave) {
  if (wave.size() < 16 || !(wave.rate_hz > 0) || !std::isfinite(wave.rate_hz)) return {};
  const std::optional<std::vector<float>> clean = clock::with_finite_samples(wave.codes);
  const double width = std::clamp(low_pass_s * wave.rate_hz, 1.0, static_cast<double>(wave.size()) / 8);
  std::vector<float> volts = clock::smoothed(clean ? signal::CodesView(std::span<const float>(*clean)) : wave.codes,
                                             static_cast<std::size_t>(width) | 1U);
  for (float& v : volts) v = static_cast<float>(static_cast<double>(v) * wave.scale_v + wave.offset_v);
  return volts;
}

double quantile(std::vector<float> values, double q) {
  const auto at = static_cast<std::ptrdiff_t>(q * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + at, values.end());
  return static_cast<double>(values[static_cast<std::size_t>(at)]);
}

// Part of the record to one side of the reference: its furthest point.
struct Peak {
  bool up = false;
  std::size_t at = 0;
  double away_v = 0;             // from the reference, positive to either side
  std::size_t from = 0, to = 0;  // where the signal is that far away

  std::size_t width() const { return to - from + 1; }
};

// A side begins where the signal is further than `least_v` from the reference there.
std::vector<Peak> peaks_of(const std::vector<float>& volts, double reference_v, double least_v) {
  std::vector<Peak> peaks;
  bool inside = true;  // near the reference since the last peak
  for (std::size_t i = 0; i < volts.size(); ++i) {
    const double away = static_cast<double>(volts[i]) - reference_v, size = std::abs(away);
    if (size < 0.5 * least_v) inside = true;
    if (size < least_v) continue;
    const bool up = away > 0;
    if (inside || peaks.empty() || peaks.back().up != up) {
      peaks.push_back({up, i, size, i, i});
    } else if (size > peaks.back().away_v) {
      peaks.back().at = i;
      peaks.back().away_v = size;
    }
    peaks.back().to = i;
    inside = false;
  }
  return peaks;
}

// The two peaks of one sweep: to either side, and no further apart than they are wide. The quiet between two sweeps is
// longer.
bool is_sweep(const Peak& a, const Peak& b) { return a.up != b.up && b.from - a.to <= a.width() + b.width(); }

// Straight line through what lies near the reference between two peaks.
struct Line {
  double slope_v_per_sample = 0, crossing = 0;
};
std::optional<Line> line_between(const std::vector<float>& volts, double reference_v, const Peak& a, const Peak& b) {
  const double near_v = 0.4 * std::min(a.away_v, b.away_v);
  double n = 0, sum_x = 0, sum_y = 0, sum_xx = 0, sum_xy = 0;
  for (std::size_t i = a.at; i <= b.at; ++i) {
    const double y = static_cast<double>(volts[i]) - reference_v, x = static_cast<double>(i - a.at);
    if (std::abs(y) > near_v) continue;
    n += 1;
    sum_x += x;
    sum_y += y;
    sum_xx += x * x;
    sum_xy += x * y;
  }
  const double spread = n * sum_xx - sum_x * sum_x;
  if (n < 3 || !(spread > 0)) return std::nullopt;
  const double slope = (n * sum_xy - sum_x * sum_y) / spread;
  if (slope == 0) return std::nullopt;
  return Line{slope, static_cast<double>(a.at) + (sum_x - sum_y / slope) / n};
}

// Samples about the crossing within `slack_v` of the line.
double straight_samples(const std::vector<float>& volts, double reference_v, const Line& line, double slack_v) {
  const auto is_off = [&](std::size_t i) {
    const double on_line = reference_v + line.slope_v_per_sample * (static_cast<double>(i) - line.crossing);
    return std::abs(static_cast<double>(volts[i]) - on_line) > slack_v;
  };
  const auto middle = static_cast<std::size_t>(std::clamp(line.crossing, 0.0, static_cast<double>(volts.size() - 1)));
  std::size_t from = middle, to = middle;
  while (from > 0 && !is_off(from - 1)) --from;
  while (to + 1 < volts.size() && !is_off(to + 1)) ++to;
  return static_cast<double>(to - from);
}

}  // namespace

std::optional<SCurve> s_curve(const signal::WaveformView& waveform, std::optional<double> reference_v) {
  const std::vector<float> volts = smooth_volts(waveform);
  if (volts.empty()) return std::nullopt;
  const double reference = reference_v.value_or(quantile(volts, 0.5));
  const auto [lowest, highest] = std::minmax_element(volts.begin(), volts.end());
  // A peak must come a quarter as far as the furthest one.
  const double least =
      0.25 * std::max(static_cast<double>(*highest) - reference, reference - static_cast<double>(*lowest));
  if (!(least > 0)) return std::nullopt;
  std::vector<Peak> peaks = peaks_of(volts, reference, least);
  // One that an end of the record cuts is no peak.
  std::erase_if(peaks, [&](const Peak& peak) { return peak.at == 0 || peak.at + 1 == volts.size(); });
  SCurve mean;
  double up = 0, down = 0;
  for (std::size_t i = 0; i + 1 < peaks.size();) {
    const Peak &a = peaks[i], &b = peaks[i + 1];
    const auto line = is_sweep(a, b) ? line_between(volts, reference, a, b) : std::nullopt;
    if (!line) {
      ++i;
      continue;
    }
    ++mean.sweeps;
    up += (a.up ? a : b).away_v;
    down += (a.up ? b : a).away_v;
    mean.slope_v_per_s += std::abs(line->slope_v_per_sample) * waveform.rate_hz;
    mean.straight_s += straight_samples(volts, reference, *line, 0.1 * (a.away_v + b.away_v)) / waveform.rate_hz;
    i += 2;
  }
  if (mean.sweeps == 0) return std::nullopt;
  mean.height_v = (up + down) / mean.sweeps;
  mean.symmetry = (up - down) / (up + down);
  mean.slope_v_per_s /= mean.sweeps;
  mean.straight_s /= mean.sweeps;
  return mean;
}

std::optional<TrackingSwing> tracking_swing(const signal::WaveformView& waveform, std::optional<double> reference_v) {
  const std::vector<float> volts = smooth_volts(waveform);
  if (volts.empty()) return std::nullopt;
  const double low = quantile(volts, 0.02), high = quantile(volts, 0.98), middle = 0.5 * (low + high);
  if (!(high > low)) return std::nullopt;
  const std::vector<Peak> peaks = peaks_of(volts, middle, 0.25 * (high - low));
  double up = 0, down = 0;
  int ups = 0, downs = 0;
  std::size_t first = 0, last = 0;  // upper peaks
  // The first and the last one may be cut by the ends of the record.
  for (std::size_t i = 1; i + 1 < peaks.size(); ++i) {
    if (peaks[i].up) {
      if (ups == 0) first = peaks[i].at;
      last = peaks[i].at;
      up += middle + peaks[i].away_v;
      ++ups;
    } else {
      down += middle - peaks[i].away_v;
      ++downs;
    }
  }
  constexpr int few = 4;
  if (ups < few || downs < few) return std::nullopt;
  up /= ups;
  down /= downs;
  TrackingSwing swing;
  swing.tracks = ups;
  swing.height_v = up - down;
  swing.tracks_per_s = (ups - 1) * waveform.rate_hz / static_cast<double>(last - first);
  if (reference_v) {
    const double above = up - *reference_v, below = *reference_v - down;
    swing.balance = (above - below) / (2 * (above + below));
  }
  return swing;
}

}  // namespace eyelevel::disc::servo
