// SPDX-License-Identifier: Apache-2.0
#include "core/disc/envelope/envelope.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <boost/math/tools/minima.hpp>
#include <cmath>
#include <limits>
#include <string>
#include <utility>

#include "core/disc/envelope/spectrum.hpp"

namespace eyelevel::disc::envelope {
namespace {

constexpr std::size_t points_most = 65536;
constexpr double pi = 3.14159265358979323846;

double median_of(std::vector<double> values) {
  const auto half = static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), values.begin() + half, values.end());
  return values[static_cast<std::size_t>(half)];
}

// Evenly spaced points of one quantity.
struct Series {
  std::vector<double> values;
  double spacing_s = 0;

  double duration_s() const { return static_cast<double>(values.size()) * spacing_s; }
  double mean() const {
    double sum = 0;
    for (const double v : values) sum += v;
    return sum / static_cast<double>(values.size());
  }
};

// Means of `count` points each; what is left over at the end is left out.
Series thinned(const Series& series, std::size_t count) {
  if (count <= 1) return series;
  Series thin{{}, series.spacing_s * static_cast<double>(count)};
  for (std::size_t i = 0; i + count <= series.values.size(); i += count) {
    double sum = 0;
    for (std::size_t k = 0; k < count; ++k) sum += series.values[i + k];
    thin.values.push_back(sum / static_cast<double>(count));
  }
  return thin;
}

// Least squares of constant, slope, sine and cosine.
struct Swing {
  double amplitude = 0;
  double left = 0;              // sum of squares that the fit leaves
  double cosine = 0, sine = 0;  // about the middle of the series
};
Swing swing_at(const Series& series, double hz) {
  const double mid = 0.5 * series.duration_s();
  // Sums of products of time t, cosine c, sine s and value v. Each by name: they stay in registers.
  double t1 = 0, tt = 0, c1 = 0, s1 = 0, tc = 0, ts = 0, cc = 0, cs = 0, ss = 0, v1 = 0, vt = 0, vc = 0, vs = 0, vv = 0;
  // The rotation is stepped on; after 65536 steps it is right to 1e-11.
  const double step = 2 * pi * hz * series.spacing_s, step_cosine = std::cos(step), step_sine = std::sin(step);
  double c = std::cos(2 * pi * hz * mid), s = -std::sin(2 * pi * hz * mid);
  const double mean = series.mean(), per_point = series.spacing_s / mid;
  double number = 0;
  for (const double value : series.values) {
    const double t = number * per_point - 1, v = value - mean;
    t1 += t, tt += t * t, c1 += c, s1 += s, tc += t * c, ts += t * s, cc += c * c, cs += c * s, ss += s * s;
    v1 += v, vt += v * t, vc += v * c, vs += v * s, vv += v * v;
    const double turned = c * step_cosine - s * step_sine;
    s = c * step_sine + s * step_cosine;
    c = turned;
    number += 1;
  }
  const Eigen::Matrix4d products{{number, t1, c1, s1}, {t1, tt, tc, ts}, {c1, tc, cc, cs}, {s1, ts, cs, ss}};
  const Eigen::Vector4d projections(v1, vt, vc, vs);
  const Eigen::Vector4d fit = products.ldlt().solve(projections);
  return {std::hypot(fit[2], fit[3]), std::max(0.0, vv - fit.dot(projections)), fit[2], fit[3]};
}

// Without what swings at this frequency.
Series without(Series series, double hz) {
  const Swing swing = swing_at(series, hz);
  const double mid = 0.5 * series.duration_s();
  for (std::size_t i = 0; i < series.values.size(); ++i) {
    const double angle = 2 * pi * hz * (static_cast<double>(i) * series.spacing_s - mid);
    series.values[i] -= swing.cosine * std::cos(angle) + swing.sine * std::sin(angle);
  }
  return series;
}

// Where the fit at `near_hz` or less than `step_hz` beside it leaves least. A third of the digits of a double are as
// many as squares can tell.
double refined(const Series& series, double near_hz, double step_hz) {
  constexpr int bits = 20;
  const auto left = [&](double hz) { return swing_at(series, hz).left; };
  return boost::math::tools::brent_find_minima(left, near_hz - step_hz, near_hz + step_hz, bits).first;
}

// A point is the mean over its stretch of time, which takes from a swing.
double without_smoothing(const Series& series, double hz) {
  const double half_turn = pi * hz * series.spacing_s;
  return half_turn > 0 ? half_turn / std::sin(half_turn) : 1;
}

class Measure {
 public:
  Measure(Series height, Series middle, double speed)
      : height_(std::move(height)), middle_(std::move(middle)), speed_(speed) {}

  EnvelopeFigures run() {
    constexpr std::size_t points_least = 64;
    if (height_.values.size() < points_least) {
      missing("the outline of the eye wants {:.3g} ms at least", 1e3 * points_least * height_.spacing_s);
      return std::move(out_);
    }
    mean_ = height_.mean();
    if (!std::isfinite(mean_)) {
      missing("the height of the eye is no number that can be told");
      return std::move(out_);
    }
    if (!(mean_ > 0)) {
      missing("the signal does not move");
      return std::move(out_);
    }
    out_.height_v = mean_;
    find_settling();
    find_fast_part();
    find_crossings();
    find_lines();
    find_once_around();
    find_hum();
    return std::move(out_);
  }

 private:
  template <class... Args>
  void missing(fmt::format_string<Args...> text, Args&&... args) {
    out_.missing.push_back(fmt::format(text, std::forward<Args>(args)...));
  }
  double percent(double amplitude_v) const { return 100 * amplitude_v / mean_; }

  // From when on the height stays within 10 % of what it is in the last quarter.
  void find_settling() {
    constexpr double band = 0.1;
    const std::vector<double>& h = height_.values;
    const double final_v = median_of({h.begin() + static_cast<std::ptrdiff_t>(h.size() - h.size() / 4), h.end()});
    std::size_t from = h.size();
    while (from > 0 && std::abs(h[from - 1] - final_v) <= band * final_v) --from;
    if (from < h.size()) out_.settled_after_s = static_cast<double>(from) * height_.spacing_s;
  }

  // Half of what two successive points differ by, in squares: neither focus nor turning moves as fast.
  void find_fast_part() {
    double squares = 0;
    for (std::size_t i = 1; i < height_.values.size(); ++i) {
      const double step = height_.values[i] - height_.values[i - 1];
      squares += step * step;
    }
    out_.fast_percent = percent(std::sqrt(0.5 * squares / static_cast<double>(height_.values.size() - 1)));
  }

  // How often the eye opens: above two thirds of its greatest height after below one third.
  void find_crossings() {
    std::vector<double> sorted = height_.values;
    const auto nearly_all = static_cast<std::ptrdiff_t>(0.95 * static_cast<double>(sorted.size()));
    std::nth_element(sorted.begin(), sorted.begin() + nearly_all, sorted.end());
    const double greatest = sorted[static_cast<std::size_t>(nearly_all)];
    std::size_t opened = 0;
    bool closed = false;
    for (const double h : height_.values) {
      if (h < greatest / 3) closed = true;
      if (h > 2 * greatest / 3 && closed) {
        ++opened;
        closed = false;
      }
    }
    constexpr std::size_t few = 5;  // fewer are spots
    if (opened >= few) out_.openings_per_s = static_cast<double>(opened) / height_.duration_s();
  }

  void find_lines() {
    constexpr std::size_t told = 8;
    constexpr double over_floor = 6;  // times the median line; chance reaches four among thousands
    const Spectrum spectrum = hann_spectrum(height_.values);
    const std::vector<double>& line = spectrum.amplitudes;
    floor_ = median_of(line);
    const double line_hz = 1 / (static_cast<double>(spectrum.points) * height_.spacing_s);
    for (std::size_t k = 2; k + 1 < line.size(); ++k) {
      if (line[k] < line[k - 1] || line[k] <= line[k + 1]) continue;
      if (line[k] > over_floor * floor_) out_.lines.push_back({static_cast<double>(k) * line_hz, percent(line[k])});
    }
    std::sort(out_.lines.begin(), out_.lines.end(), [](const auto& a, const auto& b) { return a.percent > b.percent; });
    if (out_.lines.size() > told) out_.lines.resize(told);
  }

  void find_once_around() {
    // 23 mm at 1.4 m/s turns 9.7 times a second, 58 mm at 1.2 m/s 3.3 times (ECMA-130 11.3, 11.4); some to spare.
    constexpr double least_hz = 2.5, most_hz = 12, points_a_turn = 20, points_a_turn_least = 3;
    const double duration = height_.duration_s(), from_hz = std::max(least_hz * speed_, 1.2 / duration),
                 to_hz = most_hz * speed_;
    if (from_hz >= to_hz / 1.5) {
      missing("a turn of the disc wants a record of {:.2g} s or more", 1.2 / (least_hz * speed_));
      return;
    }
    if (to_hz * height_.spacing_s > 1.0 / points_a_turn_least) {
      missing("turns of the disc want a record that is shorter: of this one a point lasts {:.2g} s", height_.spacing_s);
      return;
    }
    const auto count = static_cast<std::size_t>(1 / (points_a_turn * to_hz * height_.spacing_s));
    const Series height = thinned(height_, count), middle = thinned(middle_, count);
    const double by_height = turns_of(height, from_hz, to_hz);
    const double hz = by_height > 0 ? by_height : turns_of(middle, from_hz, to_hz);
    if (!(hz > 0)) {
      missing("no turning of the disc stands out of the outline");
      return;
    }
    const double whole = without_smoothing(height, hz);
    out_.once_around = OnceAround{hz, percent(whole * swing_at(height, hz).amplitude),
                                  percent(whole * swing_at(middle, hz).amplitude)};
  }

  // The rate that stands out, or 0.
  static double turns_of(const Series& series, double from_hz, double to_hz) {
    double best_hz = 0, best_left = std::numeric_limits<double>::infinity(), usual = 0;
    std::size_t tried = 0;
    const double step_hz = 0.1 / series.duration_s();
    for (; static_cast<double>(tried) * step_hz <= to_hz - from_hz; ++tried) {
      const double hz = from_hz + static_cast<double>(tried) * step_hz, left = swing_at(series, hz).left;
      usual += left;
      if (left < best_left) best_hz = hz, best_left = left;
    }
    // It must explain far more than the other rates do: else nothing stands out.
    constexpr double stands_out = 0.5;
    if (tried == 0 || !(best_left < stands_out * usual / static_cast<double>(tried))) return 0;
    return refined(series, best_hz, step_hz);
  }

  void find_hum() {
    constexpr double needed_s = 0.2;  // tells 50 Hz from 60 Hz
    if (height_.duration_s() < needed_s) {
      missing("hum wants a record of {:.2g} s or more", needed_s);
      return;
    }
    // The turns of the disc are stronger than any hum and would leak into it.
    Series rest = height_;
    const double turns_hz = out_.once_around ? out_.once_around->hz : 0;
    for (int n = 1; n <= 4 && turns_hz > 0; ++n) rest = without(std::move(rest), n * turns_hz);
    for (const double hz : {50.0, 60.0, 100.0, 120.0}) {
      if (hz > 0.4 / height_.spacing_s) {
        missing(
            "hum at {:.0f} Hz: of the outline there is a point every {:.2g} ms only; a shorter record or more samples "
            "per second give more of them",
            hz, 1e3 * height_.spacing_s);
        continue;
      }
      const double multiple = turns_hz > 0 ? std::abs(hz / turns_hz - std::round(hz / turns_hz)) * turns_hz : hz;
      if (multiple < 1.5 / height_.duration_s()) {
        missing("hum at {:.0f} Hz cannot be told from a multiple of the turns", hz);
        continue;
      }
      const double amplitude = swing_at(rest, hz).amplitude;
      constexpr double over_floor = 6;
      if (amplitude > over_floor * floor_) out_.hum.push_back({hz, percent(amplitude)});
    }
  }

  Series height_, middle_;
  double speed_;
  double mean_ = 0, floor_ = 0;
  EnvelopeFigures out_;
};

}  // namespace

void EnvelopeSums::take(double low_v, double high_v) {
  if (std::isfinite(low_v) && std::isfinite(high_v)) {
    low_v_ = filled_ ? std::min(low_v_, low_v) : low_v;
    high_v_ = filled_ ? std::max(high_v_, high_v) : high_v;
    filled_ = any_ = true;
  }
  if (++seen_ == blocks_) add_point();
}

void EnvelopeSums::add_point() {
  seen_ = 0;
  filled_ = false;
  if (!any_) return;
  height_sum_v_ += high_v_ - low_v_;
  middle_sum_v_ += 0.5 * (high_v_ + low_v_);
  if (++waiting_ < merged_) return;
  heights_v_.push_back(static_cast<float>(height_sum_v_ / static_cast<double>(merged_)));
  middles_v_.push_back(static_cast<float>(middle_sum_v_ / static_cast<double>(merged_)));
  waiting_ = 0;
  height_sum_v_ = middle_sum_v_ = 0;
  if (heights_v_.size() < points_most) return;
  const auto halve = [](std::vector<float>& values) {
    for (std::size_t i = 0; i < values.size() / 2; ++i) values[i] = 0.5F * (values[2 * i] + values[2 * i + 1]);
    values.resize(values.size() / 2);
  };
  halve(heights_v_);
  halve(middles_v_);
  merged_ *= 2;
}

EnvelopeFigures EnvelopeSums::figures(double speed) const {
  const double spacing_s = spacing_s_ * static_cast<double>(merged_);
  return Measure({{heights_v_.begin(), heights_v_.end()}, spacing_s},
                 {{middles_v_.begin(), middles_v_.end()}, spacing_s}, speed)
      .run();
}

}  // namespace eyelevel::disc::envelope
