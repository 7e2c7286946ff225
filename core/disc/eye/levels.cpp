// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/levels.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::eye {
namespace {

// Half width of what is averaged in an 11T run, T. At 3 T from an edge (the usual rule) a spot of 1.25 T has settled to
// 0.8 % of the eye only, and the mean from there on is 0.14 % low; 4.5 T from the edges it is 0.01 %.
constexpr double settled_t = 1.0;
constexpr std::size_t centres_most = 1000;  // 4T runs looked at
constexpr std::int64_t sampled_most = 256;  // about as many centres of 4T to 10T runs, each side

double median_of(std::vector<double> values) {
  const auto half = static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), values.begin() + half, values.end());
  return values[static_cast<std::size_t>(half)];
}

Level level_of(const std::vector<double>& values) {
  double sum = 0, squares = 0;
  for (const double v : values) sum += v;
  const auto n = static_cast<double>(values.size());
  const double mean = sum / n;
  for (const double v : values) squares += (v - mean) * (v - mean);
  return {mean, n > 1 ? std::sqrt(squares / (n - 1) / n) : 0, values.size()};
}

// Levels of one kind of run; `above` is how far each lies from the slicing level, which follows a moving baseline.
struct Values {
  std::vector<double> level, above;

  void add(double value, double slice) {
    level.push_back(value);
    above.push_back(value - slice);
  }
};

// Leaves out what lies further than `slack` from those around: a spot that the envelope was too coarse for.
std::size_t drop_strays(Values& values, double slack) {
  constexpr std::size_t reach = 4;
  const double usual = median_of(values.above);
  std::size_t kept = 0;
  for (std::size_t i = 0; i < values.level.size(); ++i) {
    bool stray = std::abs(values.above[i] - usual) > slack;
    if (stray) {
      const std::size_t from = i < reach ? 0 : i - reach, to = std::min(values.above.size(), i + reach + 1);
      const double around = median_of({values.above.begin() + static_cast<std::ptrdiff_t>(from),
                                       values.above.begin() + static_cast<std::ptrdiff_t>(to)});
      stray = std::abs(values.above[i] - around) > slack;
    }
    if (!stray) values.level[kept++] = values.level[i];
  }
  const std::size_t dropped = values.level.size() - kept;
  values.level.resize(kept);
  return dropped;
}

template <class T>
class Measure {
 public:
  Measure(std::span<const T> x, const Rails& rails, std::size_t runs, const RunCounts& counts) : x_(x), rails_(rails) {
    for (std::size_t n = efm::run_min + 1; n < efm::run_max; ++n) {
      low_[n].every = std::max<std::int64_t>(1, counts.low[n] / sampled_most);
      low_[n].wait = 1;
      high_[n].every = std::max<std::int64_t>(1, counts.high[n] / sampled_most);
      high_[n].wait = 1;
    }
    high3_.reserve(runs / 4 + 16);  // a third of the runs are 3T
    low3_.reserve(runs / 4 + 16);
  }

  void take(const Run& run) {
    if (run.length == efm::run_max) take_longest(run);
    if (run.length == efm::run_min) take_centre(run, run.high ? high3_ : low3_);
    if (run.length == efm::run_min + 1 && high4_.size() + low4_.size() < centres_most) {
      take_centre(run, run.high ? high4_ : low4_);
    }
    Sampled& sampled = (run.high ? high_ : low_)[static_cast<std::size_t>(run.length)];
    if (--sampled.wait == 0) {
      sampled.wait = sampled.every;
      take_centre(run, sampled.level);
    }
  }

  EyeLevels result() {
    EyeLevels levels;
    if (!high11_.level.empty() && !low11_.level.empty()) {
      const double slack = 0.1 * std::abs(median_of(high11_.above) - median_of(low11_.above));
      levels.left_out = drop_strays(high11_, slack) + drop_strays(low11_, slack);
    }
    const auto set = [](std::optional<Level>& level, const std::vector<double>& values) {
      if (!values.empty()) level = level_of(values);
    };
    set(levels.i11_high, high11_.level);
    set(levels.i11_low, low11_.level);
    set(levels.i3_high, high3_);
    set(levels.i3_low, low3_);
    set(levels.i4_high, high4_);
    set(levels.i4_low, low4_);
    for (std::size_t n = efm::run_min + 1; n < efm::run_max; ++n) {
      if (!low_[n].level.empty()) levels.low[n] = level_of(low_[n].level).mean;
      if (!high_[n].level.empty()) levels.high[n] = level_of(high_[n].level).mean;
    }
    if (levels.i3_low) levels.low[efm::run_min] = levels.i3_low->mean;
    if (levels.i3_high) levels.high[efm::run_min] = levels.i3_high->mean;
    if (levels.i11_low) levels.low[efm::run_max] = levels.i11_low->mean;
    if (levels.i11_high) levels.high[efm::run_max] = levels.i11_high->mean;
    if (settled_high_ > 0) levels.clipped_high = clipped_high_ / settled_high_;
    if (settled_low_ > 0) levels.clipped_low = clipped_low_ / settled_low_;
    if (freedom_ > 0) levels.noise = std::sqrt(squares_ / freedom_);
    return levels;
  }

 private:
  void take_longest(const Run& run) {
    const double half = settled_t * static_cast<double>(run.period), middle = run.middle();
    const auto from = static_cast<std::size_t>(std::ceil(std::max(0.0, middle - half)));
    const auto to = std::min(static_cast<std::size_t>(middle + half) + 1, x_.size());
    if (to <= from) return;
    double sum = 0, squares = 0, clipped = 0;
    const auto reference = static_cast<double>(x_[from]);
    for (std::size_t i = from; i < to; ++i) {
      const double off = static_cast<double>(x_[i]) - reference;
      sum += off;
      squares += off * off;
      const auto value = static_cast<double>(x_[i]);
      clipped += (run.high ? value >= rails_.high : value <= rails_.low) ? 1 : 0;
    }
    const auto n = static_cast<double>(to - from);
    (run.high ? settled_high_ : settled_low_) += n;
    (run.high ? clipped_high_ : clipped_low_) += clipped;
    (run.high ? high11_ : low11_).add(reference + sum / n, static_cast<double>(run.level));
    squares_ += std::max(0.0, squares - sum * sum / n);
    freedom_ += n - 1;
  }

  // Lagrange's polynomial through the samples around the centre: four where they lie close, six down to two samples to
  // a channel bit; exact to 0.1 % of the eye.
  void take_centre(const Run& run, std::vector<double>& levels) {
    const double middle = run.middle();
    if (!(middle >= 2)) return;
    const auto base = static_cast<double>(static_cast<std::int64_t>(middle));
    if (base + 3 >= static_cast<double>(x_.size())) return;
    const T* at = x_.data() + static_cast<std::ptrdiff_t>(base);
    levels.push_back(run.period >= 3.0F ? through_four(at, middle - base) : through_six(at, middle - base));
  }

  static double through_four(const T* at, double u) {
    const double a = u + 1, c = u - 1, d = u - 2;
    return static_cast<double>(at[-1]) * (u * c * d / -6) + static_cast<double>(at[0]) * (a * c * d / 2) +
           static_cast<double>(at[1]) * (a * u * d / -2) + static_cast<double>(at[2]) * (a * u * c / 6);
  }

  static double through_six(const T* at, double u) {
    constexpr double denominators[6] = {-120, 24, -12, 12, -24, 120};
    double value = 0;
    for (int j = 0; j < 6; ++j) {
      double product = 1;
      for (int i = 0; i < 6; ++i) product *= i == j ? 1.0 : u - (i - 2);
      value += product / denominators[j] * static_cast<double>(at[j - 2]);
    }
    return value;
  }

  // Every so-many-th run of a group; a wait of 0 never ends (3T and 11T are taken whole elsewhere).
  struct Sampled {
    std::int64_t every = 0, wait = 0;
    std::vector<double> level;
  };

  std::span<const T> x_;
  Rails rails_;
  Values high11_, low11_;
  std::array<Sampled, 12> low_{}, high_{};
  std::vector<double> high3_, low3_, high4_, low4_;
  double squares_ = 0, freedom_ = 0;
  double settled_high_ = 0, settled_low_ = 0, clipped_high_ = 0, clipped_low_ = 0;
};

}  // namespace

EyeLevels eye_levels(const signal::CodesView& codes, std::span<const Run> runs, const Rails& rails,
                     const RunCounts& counts) {
  return std::visit(
      [&]<class T>(std::span<const T> x) {
        Measure<T> measure(x, rails, runs.size(), counts);
        for (const Run& run : runs) measure.take(run);
        return measure.result();
      },
      codes);
}

}  // namespace eyelevel::disc::eye
