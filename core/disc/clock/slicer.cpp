// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/slicer.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>

#include "core/disc/clock/kernels.hpp"

namespace eyelevel::disc::clock {
namespace {

using kernels::word;

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

// Sample i is the first beyond the hysteresis, `last` was that of the edge before. `level` moves if no sample since
// then lies on its old side: it has moved between two words.
template <class T>
Crossing crossing_before(const T* x, std::size_t i, std::size_t last, double hysteresis, double sign, double& level) {
  const auto above = [&](std::size_t k) { return sign * (static_cast<double>(x[k]) - level); };
  std::size_t before = i == last ? i : i - 1;
  while (before > last && above(before) > -hysteresis) --before;
  if (above(before) >= 0) level = static_cast<double>(x[before]) + sign * 1e-9;
  return crossing(x, before, i, level, sign);
}

template <class T>
class Slicer {
 public:
  Slicer(std::span<const T> x, double hysteresis, Edges reuse)
      : x_(x), hysteresis_(static_cast<float>(hysteresis)), edges_(std::move(reuse)) {
    // What is reserved and not used costs nothing; what is copied to where there is more room, does.
    edges_.at.reserve(edges_most() + room);
    edges_.level.reserve(edges_most() + room);
    edges_.step.reserve(edges_most() + room);
  }

  // Words that follow each other from sample `base` on; the last one may reach beyond the samples.
  void look_at(std::size_t base, std::span<const float> levels) {
    const std::size_t whole = std::min(levels.size(), (x_.size() - base) / word);
    for (std::size_t w = 0; w < whole; w += words_some) {
      const std::size_t n = std::min(words_some, whole - w);
      take(x_.data() + base + w * word, base + w * word, levels.subspan(w, n));
    }
    if (whole == levels.size()) return;
    std::array<T, word> rest;
    rest.fill(x_.back());
    std::copy(x_.begin() + static_cast<std::ptrdiff_t>(base + whole * word), x_.end(), rest.begin());
    take(rest.data(), base + whole * word, levels.subspan(whole, 1));
  }

  Edges result() {
    const std::size_t n = count_ > edges_most() ? 0 : count_;
    set_size(n);
    edges_.first_rises = n > 0 && (n % 2 == 1) == polarity_.high;
    edges_.slope = n > 0 ? steepness_ / static_cast<double>(n) : 0;
    return std::move(edges_);
  }

  static constexpr std::size_t words_some = 128;  // at a time, so that they stay in the cache

 private:
  // For the edges of some words, and what is written beyond them.
  static constexpr std::size_t room = words_some * word + 4;

  std::size_t edges_most() const { return x_.size() / 4 + word; }
  void set_size(std::size_t edges) {
    edges_.at.resize(edges);
    edges_.level.resize(edges);
    edges_.step.resize(edges);
  }

  // The edges of some words.
  void take(const T* x, std::size_t base, std::span<const float> levels) {
    if (!polarity_.known) place_[0] = static_cast<std::uint32_t>(base);  // no edge is looked for before
    if (count_ > edges_most()) return;
    if (edges_.size() < count_ + room) set_size(count_ + room);
    float* level = &edges_.level[count_];
    float* step = &edges_.step[count_];
    const std::size_t n = kernels::confirmed(x, static_cast<std::uint32_t>(base), levels, hysteresis_, polarity_,
                                             place_.data() + 1, level);
    if (n == 0) return;
    const bool first_rises = (n % 2 == 1) == polarity_.high;
    kernels::cross(x_.data(), {{place_.data(), n + 1}, {level, n}, first_rises}, hysteresis_, &edges_.at[count_], step);
    auto steps = kernels::block_sums(std::span<const float>(step, n));
    if (steps.low <= 0) {
      for (std::size_t k = 0; k < n; ++k) {
        if (step[k] <= 0) look_closer(k, (k % 2 == 0) == first_rises);
      }
      steps = kernels::block_sums(std::span<const float>(step, n));
    }
    steepness_ += steps.sum;
    count_ += n;
    place_[0] = place_[n];
  }

  // An edge that four samples do not tell.
  void look_closer(std::size_t k, bool rises) {
    const std::size_t edge = count_ + k;
    auto level = static_cast<double>(edges_.level[edge]);
    const Crossing found =
        crossing_before(x_.data(), place_[k + 1], place_[k], static_cast<double>(hysteresis_), rises ? 1 : -1, level);
    edges_.at[edge] = edge > 0 ? std::max(found.at, edges_.at[edge - 1]) : found.at;
    edges_.level[edge] = static_cast<float>(level);
    edges_.step[edge] = found.step;
    if (found.step <= 0) steepness_ += found.rise;
  }

  std::span<const T> x_;
  float hysteresis_;
  kernels::Polarity polarity_;
  double steepness_ = 0;
  std::array<std::uint32_t, room + 1> place_;  // of edges of some words, behind the one before
  std::size_t count_ = 0;                      // of edges that are found; the rows hold more
  Edges edges_;
};

template <class T>
Edges slice_of(std::span<const T> x, const Survey& survey, const LevelTrack& track, double hysteresis, const Part& part,
               Edges reuse) {
  Slicer<T> slicer(x, hysteresis, std::move(reuse));
  std::vector<float> levels;
  std::size_t from = 0;
  const auto look = [&] {
    if (!levels.empty()) slicer.look_at(from, levels);
    levels.clear();
  };
  const std::size_t blocks = std::min(survey.block_low.size(), part.to / survey.block + (part.to % survey.block != 0));
  for (std::size_t block = part.from / survey.block; block < blocks; ++block) {
    if (survey.is_dropout(block) || levels.size() >= Slicer<T>::words_some) look();
    if (survey.is_dropout(block)) continue;
    const std::size_t first = block * survey.block, end = std::min(x.size(), first + survey.block);
    if (levels.empty()) from = first;
    const std::size_t before = levels.size();
    levels.resize(before + (end - first + word - 1) / word);
    track.along(static_cast<double>(first) + 0.5 * word, word, std::span(levels).subspan(before));
  }
  look();
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
double reslice_of(std::span<const T> x, std::size_t first, std::span<const float> rises, double hysteresis,
                  Edges& edges) {
  std::array<std::uint32_t, 256> undone;
  double steepness = 0;
  while (!rises.empty()) {
    const std::span<const float> some = rises.first(std::min(undone.size(), rises.size()));
    const kernels::Moved moved{&edges.at[first], &edges.level[first], &edges.step[first], edges.rises(first)};
    const std::size_t left = kernels::move(x, some, static_cast<float>(hysteresis), moved, undone.data());
    for (const std::uint32_t i : std::span(undone).first(left)) {
      const std::size_t k = first + i;
      const float level = edges.level[k] + some[i];
      const auto found = found_again(x, edges, k, static_cast<double>(level), hysteresis);
      if (!found) continue;  // stays where it was
      edges.at[k] = found->at;
      edges.level[k] = level;
      edges.step[k] = found->step;
      if (found->step <= 0) steepness += found->rise;
    }
    first += some.size();
    rises = rises.subspan(some.size());
  }
  return steepness;
}

double median_of_five(const double* v) {
  const double low = std::max(std::min(v[0], v[1]), std::min(v[2], v[3]));
  const double high = std::min(std::max(v[0], v[1]), std::max(v[2], v[3]));
  return std::max(std::min(low, high), std::min(std::max(low, high), v[4]));
}

// Median of what lies around each block, dropouts left out, then a short mean.
std::vector<double> smoothed_middles(const Survey& survey) {
  const std::size_t n = survey.block_low.size();
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  constexpr std::size_t reach = 2;
  std::vector<double> open(n + 2 * reach, none), middles(n, none), smooth(n);  // `open` reaches beyond both ends
  for (std::size_t i = 0; i < n; ++i) {
    if (survey.block_amplitude(i) > 0.7 * survey.amplitude) {
      open[i + reach] = 0.5 * (survey.block_low[i] + survey.block_high[i]);
    }
  }
  for (std::size_t i = 0; i < n; ++i) {
    std::array<double, 2 * reach + 1> around{};
    std::size_t count = 0;
    for (std::size_t k = i; k < i + around.size(); ++k) {
      around[count] = open[k];
      count += std::isnan(open[k]) ? 0 : 1;
    }
    if (count == around.size()) {
      middles[i] = median_of_five(around.data());
    } else if (count > 0) {
      const auto half = around.begin() + static_cast<std::ptrdiff_t>(count / 2);
      std::nth_element(around.begin(), half, around.begin() + static_cast<std::ptrdiff_t>(count));
      middles[i] = *half;
    }
  }
  const auto known = std::find_if(middles.begin(), middles.end(), [](double m) { return !std::isnan(m); });
  double last = known != middles.end() ? *known : 0.5 * (survey.low + survey.high);
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

// Calls visit(sample less the knot of its block) for about so many of the samples where the eye is open.
template <class Visit>
void pick(const signal::CodesView& codes, const Survey& survey, const LevelTrack& track, std::size_t picks,
          Visit visit) {
  const std::size_t step = std::max<std::size_t>(1, survey.samples / picks);
  std::visit(
      [&](const auto& x) {
        std::size_t i = 0;
        for (std::size_t block = 0; block < survey.block_low.size(); ++block) {
          const std::size_t end = std::min(x.size(), (block + 1) * survey.block);
          if (survey.block_amplitude(block) < 0.7 * survey.amplitude) {
            if (i < end) i += (end - i + step - 1) / step * step;
            continue;
          }
          for (; i < end; i += step) visit(static_cast<double>(x[i]) - track.knots[block]);
        }
      },
      codes);
}

// How far above the knots half of the samples lie.
std::optional<double> median_above(const signal::CodesView& codes, const Survey& survey, const LevelTrack& track) {
  constexpr std::size_t bins = 512;
  std::array<std::size_t, bins> histogram{};
  std::size_t picks = 0;
  const double zero = 0.75 * survey.amplitude, per_bin = bins / 1.5 / survey.amplitude;
  pick(codes, survey, track, 4096, [&](double above) {
    ++histogram[static_cast<std::size_t>(std::clamp((above + zero) * per_bin, 0.0, bins - 1.0))];
    ++picks;
  });
  std::size_t below = 0, bin = 0;
  while (bin < bins && 2 * (below + histogram[bin]) <= picks) below += histogram[bin++];
  if (picks == 0 || bin == bins) return std::nullopt;
  const double inside =
      (0.5 * static_cast<double>(picks) - static_cast<double>(below)) / static_cast<double>(histogram[bin]);
  return (static_cast<double>(bin) + inside) / per_bin - zero;
}

// Whether about half of the samples lie above a level that is raised so far: by chance they are 5 % off once in some
// hundred times.
bool halves(const signal::CodesView& codes, const Survey& survey, const LevelTrack& track, double raised) {
  constexpr double slack = 0.05;
  double above = 0, picks = 0;
  pick(codes, survey, track, 768, [&](double code) {
    above += code > raised ? 1 : 0;
    picks += 1;
  });
  return std::abs(above - 0.5 * picks) < slack * picks;
}

}  // namespace

double hysteresis_for(const Survey& survey) {
  // A 3T run rises a quarter of the eye above the level (I3/I11 0.3 to 0.7, ECMA-130 12.2): more than 12 % would lose
  // it.
  return std::clamp(3.5 * survey.noise, 0.04 * survey.amplitude, 0.12 * survey.amplitude);
}

void LevelTrack::along(double sample, double step, std::span<float> levels) const {
  const double scale = 1 / spacing, last = static_cast<double>(knots.size() - 1);
  double place = (sample - first) * scale;
  const auto next = [&] { place = ((sample += step) - first) * scale; };
  for (auto level = levels.begin(); level != levels.end();) {
    if (!(place >= 0 && place < last)) {
      *level++ = static_cast<float>(at_knot(place));
      next();
      continue;
    }
    const auto i = static_cast<std::ptrdiff_t>(place);
    const double* knot = knots.data() + i;
    const double left = static_cast<double>(i), rise = knot[1] - knot[0];
    for (; level != levels.end() && place < left + 1; next()) {
      *level++ = static_cast<float>(knot[0] + (place - left) * rise);
    }
  }
}

LevelTrack middle_level(const signal::CodesView& codes, const Survey& survey, std::optional<double> usual) {
  LevelTrack track;
  track.first = 0.5 * static_cast<double>(survey.block);
  track.spacing = static_cast<double>(survey.block);
  track.knots = smoothed_middles(survey);
  // Lands and pits last equally long on average (digital sum near zero), so the median is the level where asymmetry is.
  // More than the standard's limit of asymmetry (12.3) would be no asymmetry.
  const double most = 0.25 * survey.amplitude;
  const bool as_usual = usual && std::abs(*usual) < most && halves(codes, survey, track, *usual);
  track.raised = as_usual ? *usual : std::clamp(median_above(codes, survey, track).value_or(0), -most, most);
  for (double& knot : track.knots) knot += track.raised;
  return track;
}

Edges slice(const signal::CodesView& codes, const Survey& survey, const LevelTrack& level, double hysteresis,
            const Part& part, Edges reuse) {
  return std::visit([&](const auto& x) { return slice_of(x, survey, level, hysteresis, part, std::move(reuse)); },
                    codes);
}

double reslice(const signal::CodesView& codes, std::size_t first, std::span<const float> rises, double hysteresis,
               Edges& edges) {
  return std::visit([&](const auto& x) { return reslice_of(x, first, rises, hysteresis, edges); }, codes);
}

void reslice_on(const signal::CodesView& codes, double hysteresis, Edges& edges) {
  std::fill(edges.step.begin(), edges.step.end(), 0.0F);
  const std::vector<float> none(edges.size(), 0.0F);
  reslice(codes, 0, none, hysteresis, edges);
}

}  // namespace eyelevel::disc::clock
