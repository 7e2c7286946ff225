// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/slicer.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>
#include <optional>
#include <span>

namespace eyelevel::disc::clock {
namespace {

constexpr std::size_t word = 64;  // samples compared at once; one bit each

// clang's vector types: 64 comparisons become one mask on any processor.
template <class T>
using Lanes = T __attribute__((ext_vector_type(64)));
using Bits = bool __attribute__((ext_vector_type(64)));

template <class T>
struct Masks {
  std::uint64_t above, below;
};

template <class T>
Masks<T> compare(const T* x, T high, T low) {
  Lanes<T> lanes;
  std::memcpy(&lanes, x, sizeof lanes);
  return {std::bit_cast<std::uint64_t>(__builtin_convertvector(lanes > high, Bits)),
          std::bit_cast<std::uint64_t>(__builtin_convertvector(lanes < low, Bits))};
}

template <class T>
T code_of(double level) {
  return static_cast<T>(std::clamp(level, static_cast<double>(std::numeric_limits<T>::lowest()),
                                   static_cast<double>(std::numeric_limits<T>::max())));
}
// The largest code not above `level` (x > code means x > level), and the smallest not below.
template <class T>
T code_below(double level) {
  return code_of<T>(std::is_floating_point_v<T> ? level : std::floor(level));
}
template <class T>
T code_above(double level) {
  return code_of<T>(std::is_floating_point_v<T> ? level : std::ceil(level));
}

struct Crossing {
  double at = 0;
  double rise = 0;  // codes a sample, of the whole edge
  float step = 0;   // as in Edges
};

// From sample `before` (on the old side) to `after` (on the new side). `sign` is 1 for a rising edge, -1 for a falling
// one.
template <class T>
Crossing crossing(const T* x, std::size_t before, std::size_t after, double level, double sign) {
  Crossing found;
  int times = 0;
  double a = sign * (static_cast<double>(x[before]) - level);
  for (std::size_t m = before; m < after; ++m) {
    const double b = sign * (static_cast<double>(x[m + 1]) - level);
    if ((a < 0) != (b < 0)) {
      const double at = static_cast<double>(m) + a / (a - b);
      found.at += a < 0 ? at : -at;
      found.rise += b - a;  // crossings back count against: what is left is the steepness of the edge
      ++times;
    }
    a = b;
  }
  if (times == 1) found.step = static_cast<float>(found.rise);
  return found;
}

template <class T>
class Slicer {
 public:
  Slicer(std::span<const T> x, double hysteresis) : x_(x), hysteresis_(hysteresis) {
    const std::size_t likely = x.size() / 16 + 16;
    edges_.at.reserve(likely);
    edges_.level.reserve(likely);
    edges_.step.reserve(likely);
  }

  void look_at(std::size_t base, Masks<T> masks, double level) {
    std::uint64_t live = ~std::uint64_t{0};
    if (!known_) {
      const std::uint64_t either = masks.above | masks.below;
      if (either == 0) return;
      const int first = std::countr_zero(either);
      known_ = true;
      high_ = ((masks.above >> first) & 1) != 0;
      last_ = base + static_cast<std::size_t>(first);
      live <<= first;
    }
    for (;;) {
      const std::uint64_t due = (high_ ? masks.below : masks.above) & live;
      if (due == 0) return;
      const int bit = std::countr_zero(due);
      edge_confirmed(base + static_cast<std::size_t>(bit), level);
      live = ~std::uint64_t{0} << bit;
    }
  }

  Edges result() {
    edges_.slope = edges_.at.empty() ? 0 : rise_ / static_cast<double>(edges_.at.size());
    return std::move(edges_);
  }

 private:
  void edge_confirmed(std::size_t i, double level) {
    const Crossing found = crossing_before(i, level);
    if (edges_.at.empty()) edges_.first_rises = !high_;
    edges_.at.push_back(edges_.at.empty() ? found.at : std::max(found.at, edges_.at.back()));
    edges_.level.push_back(static_cast<float>(level));
    edges_.step.push_back(found.step);
    rise_ += found.rise;
    high_ = !high_;
    last_ = i;
  }

  // Sample i is the first beyond the hysteresis. `level` moves if no sample since the last edge lies on its old side.
  Crossing crossing_before(std::size_t i, double& level) const {
    const double sign = high_ ? -1 : 1;
    const auto above = [&](std::size_t k) { return sign * (static_cast<double>(x_[k]) - level); };
    if (i >= last_ + 2) {
      // Nearly always the band is crossed within two steps.
      const double a = above(i - 2), b = above(i - 1);
      if (b < 0 && (b <= -hysteresis_ || a <= -hysteresis_)) return one_step(i - 1, b, above(i));
      if (b >= 0 && a <= -hysteresis_) return one_step(i - 2, a, b);
    }
    std::size_t before = i - 1;
    while (before > last_ && above(before) > -hysteresis_) --before;
    // A level that has moved between two words may leave no sample on the old side.
    if (above(before) >= 0) level = static_cast<double>(x_[before]) + sign * 1e-9;
    return crossing(x_.data(), before, i, level, sign);
  }

  static Crossing one_step(std::size_t k, double a, double b) {
    return {static_cast<double>(k) + a / (a - b), b - a, static_cast<float>(b - a)};
  }

  std::span<const T> x_;
  double hysteresis_;
  bool known_ = false, high_ = false;
  std::size_t last_ = 0;
  double rise_ = 0;
  Edges edges_;
};

template <class T>
Edges slice_of(std::span<const T> x, const Survey& survey, const LevelTrack& track, double hysteresis) {
  Slicer<T> slicer(x, hysteresis);
  std::array<T, word> rest{};
  for (std::size_t block = 0; block < survey.block_low.size(); ++block) {
    if (survey.is_dropout(block)) continue;
    const std::size_t end = std::min(x.size(), (block + 1) * survey.block);
    for (std::size_t base = block * survey.block; base < end; base += word) {
      const double level = track.at(static_cast<double>(base) + 0.5 * word);
      const T high = code_below<T>(level + hysteresis), low = code_above<T>(level - hysteresis);
      const T* at = x.data() + base;
      if (x.size() - base < word) {
        std::fill(rest.begin(), rest.end(), x.back());
        std::copy(x.begin() + static_cast<std::ptrdiff_t>(base), x.end(), rest.begin());
        at = rest.data();
      }
      slicer.look_at(base, compare(at, high, low), level);
    }
  }
  return slicer.result();
}

// Looks for the crossing of edge k among the samples, half way to its neighbours at most, so that runs cannot be
// swapped.
template <class T>
std::optional<Crossing> found_again(std::span<const T> x, const Edges& edges, std::size_t k, double level,
                                    double hysteresis) {
  const double sign = edges.rises(k) ? 1 : -1, middle = edges.at[k], last_sample = static_cast<double>(x.size() - 1);
  const double left = k > 0 ? 0.5 * (edges.at[k - 1] + middle) : middle - 8;
  const double right = k + 1 < edges.size() ? 0.5 * (edges.at[k + 1] + middle) : middle + 8;
  const auto first = static_cast<std::size_t>(std::clamp(left, 0.0, last_sample));
  const auto last = std::max(first, static_cast<std::size_t>(std::clamp(right + 1, 0.0, last_sample)));
  auto before = static_cast<std::size_t>(std::clamp(middle, static_cast<double>(first), static_cast<double>(last)));
  std::size_t after = std::min(before + 1, last);
  while (before > first && sign * (static_cast<double>(x[before]) - level) > -hysteresis) --before;
  while (after < last && sign * (static_cast<double>(x[after]) - level) < hysteresis) ++after;
  if (sign * (static_cast<double>(x[before]) - level) >= 0 || sign * (static_cast<double>(x[after]) - level) < 0) {
    return std::nullopt;  // does not cross the new level
  }
  return crossing(x.data(), before, after, level, sign);
}

template <class T>
void reslice_of(std::span<const T> x, std::span<const float> rises, double hysteresis, Edges& edges) {
  double steepness = 0;
  for (std::size_t k = 0; k < edges.size(); ++k) {
    const float level = edges.level[k] + rises[k];
    const auto step = static_cast<double>(edges.step[k]);
    if (step > 0) {
      // On the same straight line between two samples, as nearly always, the shift is known.
      const auto base = static_cast<double>(static_cast<std::int64_t>(edges.at[k]));
      const double up = static_cast<double>(rises[k]) / step;
      const double moved = edges.at[k] - base + (edges.rises(k) ? up : -up);
      if (moved >= 0 && moved < 1) {
        edges.at[k] = base + moved;
        edges.level[k] = level;
        steepness += step;
        continue;
      }
    }
    const auto found = found_again(x, edges, k, static_cast<double>(level), hysteresis);
    if (!found) continue;  // stays where it was
    edges.at[k] = found->at;
    edges.level[k] = level;
    edges.step[k] = found->step;
    steepness += found->rise;
  }
  if (edges.size() > 0 && steepness > 0) edges.slope = steepness / static_cast<double>(edges.size());
}

// Median of what lies around each block, dropouts left out, then a short mean.
std::vector<double> smoothed_middles(const Survey& survey) {
  const std::size_t n = survey.block_low.size();
  std::vector<double> middles(n), smooth(n);
  std::vector<double> around;
  double last = 0.5 * (survey.low + survey.high);
  constexpr std::size_t reach = 2;
  for (std::size_t i = 0; i < n; ++i) {
    around.clear();
    for (std::size_t k = i < reach ? 0 : i - reach; k < std::min(n, i + reach + 1); ++k) {
      if (survey.block_amplitude(k) > 0.7 * survey.amplitude)
        around.push_back(0.5 * (survey.block_low[k] + survey.block_high[k]));
    }
    if (around.empty()) {
      middles[i] = std::numeric_limits<double>::quiet_NaN();
      continue;
    }
    const auto half = static_cast<std::ptrdiff_t>(around.size() / 2);
    std::nth_element(around.begin(), around.begin() + half, around.end());
    middles[i] = around[static_cast<std::size_t>(half)];
  }
  const auto known = std::find_if(middles.begin(), middles.end(), [](double m) { return !std::isnan(m); });
  if (known != middles.end()) last = *known;
  for (double& m : middles) {
    if (std::isnan(m)) m = last;
    last = m;
  }
  for (std::size_t i = 0; i < n; ++i) {
    const double left = middles[i == 0 ? 0 : i - 1], right = middles[std::min(n - 1, i + 1)];
    smooth[i] = 0.25 * left + 0.5 * middles[i] + 0.25 * right;
  }
  return smooth;
}

}  // namespace

double hysteresis_for(const Survey& survey) {
  // A 3T run rises a quarter of the eye above the level (I3/I11 0.3 to 0.7, ECMA-130 12.2): more than 12 % would lose
  // it.
  return std::clamp(3.5 * survey.noise, 0.04 * survey.amplitude, 0.12 * survey.amplitude);
}

LevelTrack middle_level(const signal::CodesView& codes, const Survey& survey) {
  LevelTrack track;
  track.first = 0.5 * static_cast<double>(survey.block);
  track.spacing = static_cast<double>(survey.block);
  track.knots = smoothed_middles(survey);

  // Lands and pits last equally long on average (digital sum near zero), so the median is the level where asymmetry is.
  constexpr std::size_t picks_most = 4096, bins = 512;
  std::array<std::size_t, bins> histogram{};
  std::size_t picks = 0;
  const std::size_t step = std::max<std::size_t>(1, survey.samples / picks_most);
  std::visit(
      [&](const auto& x) {
        const double per_bin = bins / 1.5 / survey.amplitude;
        for (std::size_t block = 0; block < survey.block_low.size(); ++block) {
          if (survey.block_amplitude(block) < 0.7 * survey.amplitude) continue;
          const double zero = track.knots[block] - 0.75 * survey.amplitude;
          const std::size_t end = std::min(x.size(), (block + 1) * survey.block);
          for (std::size_t i = block * survey.block; i < end; i += step) {
            const double bin = std::clamp((static_cast<double>(x[i]) - zero) * per_bin, 0.0, bins - 1.0);
            ++histogram[static_cast<std::size_t>(bin)];
            ++picks;
          }
        }
      },
      codes);
  std::size_t below = 0, bin = 0;
  while (bin < bins && 2 * (below + histogram[bin]) <= picks) below += histogram[bin++];
  if (picks == 0 || bin == bins) return track;
  const double inside =
      (0.5 * static_cast<double>(picks) - static_cast<double>(below)) / static_cast<double>(histogram[bin]);
  const double moved = ((static_cast<double>(bin) + inside) / bins * 1.5 - 0.75) * survey.amplitude;
  // More than the standard's limit of asymmetry (12.3) would be no asymmetry.
  const double most = 0.25 * survey.amplitude;
  for (double& knot : track.knots) knot += std::clamp(moved, -most, most);
  return track;
}

Edges slice(const signal::CodesView& codes, const Survey& survey, const LevelTrack& level, double hysteresis) {
  return std::visit([&](const auto& x) { return slice_of(x, survey, level, hysteresis); }, codes);
}

void reslice(const signal::CodesView& codes, std::span<const float> rises, double hysteresis, Edges& edges) {
  std::visit([&](const auto& x) { reslice_of(x, rises, hysteresis, edges); }, codes);
}

void reslice_on(const signal::CodesView& codes, double hysteresis, Edges& edges) {
  std::fill(edges.step.begin(), edges.step.end(), 0.0F);
  const std::vector<float> none(edges.size(), 0.0F);
  reslice(codes, none, hysteresis, edges);
}

}  // namespace eyelevel::disc::clock
