// SPDX-License-Identifier: Apache-2.0
#include "core/disc/servo/servo.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "core/disc/clock/smooth.hpp"
#include "core/disc/clock/survey.hpp"
#include "core/quantity/counted.hpp"

namespace eyelevel::disc::servo {
namespace {

constexpr std::size_t samples_least = 16;

std::size_t low_pass_samples(const signal::WaveformView& wave) {
  const double width = std::clamp(low_pass_s * wave.rate_hz, 1.0, static_cast<double>(wave.size()) / 8);
  return static_cast<std::size_t>(width) | 1U;
}

// Why there is nothing to look at; empty otherwise.
std::string why_unusable(const signal::WaveformView& wave) {
  if (wave.size() < samples_least) {
    return fmt::format("the record holds {}, {} are the least", quantity::counted(wave.size(), "sample"),
                       samples_least);
  }
  if (!(wave.rate_hz > 0) || !std::isfinite(wave.rate_hz)) {
    return fmt::format("a sample rate of {} per second is none", wave.rate_hz);
  }
  return {};
}

// The low-passed record in volts, of a usable one.
std::vector<float> smooth_volts(const signal::WaveformView& wave) {
  const std::optional<std::vector<float>> clean = clock::with_finite_samples(wave.codes);
  std::vector<float> volts =
      clock::smoothed(clean ? signal::CodesView(std::span<const float>(*clean)) : wave.codes, low_pass_samples(wave));
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

double gap(const Peak& a, const Peak& b) { return static_cast<double>(b.from) - static_cast<double>(a.to); }

// Noise on a flank parts what is one peak: those of one side that are no further apart than the wider one is wide
// belong together.
std::vector<Peak> joined(const std::vector<Peak>& peaks) {
  std::vector<Peak> out;
  for (const Peak& peak : peaks) {
    if (!out.empty() && out.back().up == peak.up &&
        gap(out.back(), peak) <= static_cast<double>(std::max(out.back().width(), peak.width()))) {
      Peak& before = out.back();
      if (peak.away_v > before.away_v) before.at = peak.at, before.away_v = peak.away_v;
      before.to = peak.to;
    } else {
      out.push_back(peak);
    }
  }
  return out;
}

// The two peaks of one sweep: to either side, and no further apart than they are wide.
bool is_pair(const Peak& a, const Peak& b) {
  return a.up != b.up && gap(a, b) <= static_cast<double>(a.width() + b.width());
}

// Peak i and the next stand alone: what lies before and behind is further away than they are from each other.
bool is_alone(const std::vector<Peak>& peaks, std::size_t i) {
  const double inner = gap(peaks[i], peaks[i + 1]);
  return (i == 0 || gap(peaks[i - 1], peaks[i]) > 2 * inner) &&
         (i + 2 == peaks.size() || gap(peaks[i + 1], peaks[i + 2]) > 2 * inner);
}

double median_width(const std::vector<Peak>& peaks) {
  std::vector<float> widths;
  widths.reserve(peaks.size());
  for (const Peak& peak : peaks) widths.push_back(static_cast<float>(peak.width()));
  return quantile(std::move(widths), 0.5);
}

// Noise comes through the low-pass as swings no longer than this many of its widths.
constexpr double noise_widths = 2;

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

constexpr const char* how_to_sweep =
    "capture it while the lens moves up and down in search of focus, with a disc in and the laser on";
constexpr const char* how_to_cross = "capture it in focus with the tracking loop open, or while the sledge jumps";

std::string why_no_peak(std::size_t cut, double reference_v, double least_v) {
  if (cut > 0) {
    return fmt::format("the signal leaves {:.4g} V only at the ends of the record, which cut it: capture longer",
                       reference_v);
  }
  return fmt::format("nothing comes further than {:.3g} V from {:.4g} V; {}", least_v, reference_v, how_to_sweep);
}

// Why neighbouring peaks are no sweep.
struct NotSweeps {
  int apart = 0, crowded = 0, coarse = 0;
};

std::string why_no_sweep(const NotSweeps& n, const std::vector<Peak>& peaks, double reference_v, double least_v,
                         const signal::WaveformView& wave) {
  if (n.coarse > 0) {
    return fmt::format("from peak to peak there are fewer than three samples near {:.4g} V: {:.3g} per second would do",
                       reference_v, 10 * wave.rate_hz);
  }
  if (n.crowded > 0) {
    const double all_s = static_cast<double>(peaks.back().at - peaks.front().at) / wave.rate_hz;
    return fmt::format("the signal swings without rest, {:.3g} times a second; between two sweeps it is quiet: {}",
                       0.5 * static_cast<double>(peaks.size() - 1) / all_s, how_to_sweep);
  }
  const auto ups = std::count_if(peaks.begin(), peaks.end(), [](const Peak& p) { return p.up; });
  return fmt::format(
      "{} above and {} below {:.4g} V come further than {:.3g} V from it, and none of one side follows right after one "
      "of the other as in a sweep: {}",
      ups, static_cast<std::ptrdiff_t>(peaks.size()) - ups, reference_v, least_v, how_to_sweep);
}

// Heights of peaks to one side.
struct Heights {
  int count = 0;
  double sum = 0, squares = 0;

  void add(double v) {
    ++count;
    sum += v;
    squares += v * v;
  }
  double mean() const { return sum / count; }
  // Standard deviation as a part of the mean.
  double scatter() const { return std::sqrt(std::max(0.0, squares / count - mean() * mean())) / mean(); }
};

// Peaks of noise, of those that pass a quarter of its extent, scatter by 0.25 and more; tracks that are crossed faster
// and slower by less.
constexpr double uneven_most = 0.2;

}  // namespace

Sought<SCurve> s_curve(const signal::WaveformView& waveform, std::optional<double> reference_v) {
  if (std::string why = why_unusable(waveform); !why.empty()) return {{}, std::move(why)};
  const std::vector<float> volts = smooth_volts(waveform);
  const double reference = reference_v.value_or(quantile(volts, 0.5));
  const auto [lowest, highest] = std::minmax_element(volts.begin(), volts.end());
  const double above = static_cast<double>(*highest) - reference, below = reference - static_cast<double>(*lowest);
  if (!(std::max(above, below) > 0)) {
    return {{}, fmt::format("the signal stands still at {:.4g} V; {}", reference, how_to_sweep)};
  }
  // A peak must come a quarter as far as the furthest one.
  const double least = 0.25 * std::max(above, below);
  std::vector<Peak> peaks = peaks_of(volts, reference, least);
  for (std::size_t before = peaks.size() + 1; peaks.size() < before;) {
    before = peaks.size();
    peaks = joined(peaks);  // wider ones reach further
  }
  // One that an end of the record cuts is no peak.
  const auto cut = std::erase_if(peaks, [&](const Peak& peak) { return peak.at == 0 || peak.at + 1 == volts.size(); });
  if (peaks.empty()) return {{}, why_no_peak(cut, reference, least)};
  const double wide = median_width(peaks), noise = noise_widths * static_cast<double>(low_pass_samples(waveform));
  if (wide < noise && low_pass_s * waveform.rate_hz > 1) {
    return {{},
            fmt::format("what swings is over after {:.2g} us, as noise behind the low-pass of {:.0f} us is; a sweep "
                        "takes longer: {}",
                        1e6 * wide / waveform.rate_hz, 1e6 * low_pass_s, how_to_sweep)};
  }
  SCurve mean;
  double up = 0, down = 0;
  NotSweeps not_sweeps;
  for (std::size_t i = 0; i + 1 < peaks.size();) {
    const Peak &a = peaks[i], &b = peaks[i + 1];
    const bool pair = is_pair(a, b), alone = pair && is_alone(peaks, i);
    const auto line = alone ? line_between(volts, reference, a, b) : std::nullopt;
    if (!line) {
      not_sweeps.apart += pair ? 0 : 1;
      not_sweeps.crowded += pair && !alone ? 1 : 0;
      not_sweeps.coarse += alone ? 1 : 0;
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
  if (mean.sweeps == 0) return {{}, why_no_sweep(not_sweeps, peaks, reference, least, waveform)};
  mean.height_v = (up + down) / mean.sweeps;
  mean.symmetry = (up - down) / (up + down);
  mean.slope_v_per_s /= mean.sweeps;
  mean.straight_s /= mean.sweeps;
  return {mean, {}};
}

Sought<TrackingSwing> tracking_swing(const signal::WaveformView& waveform, std::optional<double> reference_v) {
  if (std::string why = why_unusable(waveform); !why.empty()) return {{}, std::move(why)};
  const std::vector<float> volts = smooth_volts(waveform);
  const double low = quantile(volts, 0.02), high = quantile(volts, 0.98), middle = 0.5 * (low + high);
  if (!(high > low)) return {{}, fmt::format("the signal stands still at {:.4g} V; {}", middle, how_to_cross)};
  const std::vector<Peak> peaks = peaks_of(volts, middle, 0.25 * (high - low));
  // The first and the last one may be cut by the ends of the record.
  const std::span<const Peak> whole =
      peaks.size() > 2 ? std::span(peaks).subspan(1, peaks.size() - 2) : std::span<const Peak>();
  Heights up, down;
  std::size_t first = 0, last = 0;  // upper peaks
  for (const Peak& peak : whole) {
    (peak.up ? up : down).add(peak.away_v);
    if (!peak.up) continue;
    if (up.count == 1) first = peak.at;
    last = peak.at;
  }
  constexpr int few = 4;
  if (up.count < few || down.count < few) {
    const double duration_s = static_cast<double>(volts.size()) / waveform.rate_hz;
    const int both = std::min(up.count, down.count);
    return {{},
            fmt::format("{} whole upper and {} whole lower swings in {:.3g} ms, {} of each are the least: {}", up.count,
                        down.count, 1e3 * duration_s, few,
                        both > 0 ? fmt::format("about {:.3g} ms would do", 1e3 * duration_s * (few + 1) / both)
                                 : std::string(how_to_cross))};
  }
  if (const double uneven = std::max(up.scatter(), down.scatter()); uneven > uneven_most) {
    return {{},
            fmt::format("the swings differ by {:.0f} % (standard deviation of their height), as those of noise do; "
                        "tracks give swings of one height, within {:.0f} %: {}",
                        100 * uneven, 100 * uneven_most, how_to_cross)};
  }
  TrackingSwing swing;
  swing.tracks = up.count;
  swing.height_v = up.mean() + down.mean();
  swing.tracks_per_s = (up.count - 1) * waveform.rate_hz / static_cast<double>(last - first);
  if (reference_v) {
    const double above = middle + up.mean() - *reference_v, below = *reference_v - middle + down.mean();
    swing.balance = (above - below) / (2 * (above + below));
  }
  return {swing, {}};
}

}  // namespace eyelevel::disc::servo
