// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/levels.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <vector>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::eye {
namespace {

// Half width of what is averaged in an 11T run, T. At 3 T from an edge (the usual rule) a spot of 1.25 T has settled to
// 0.8 % of the eye only, and the mean from there on is 0.14 % low; 4.5 T from the edges it is 0.01 %.
constexpr double settled_t = 1.0;
// 4T, 5T and 6T are half of all runs: every fourth of them says enough. Looked at is a run of which as many were seen
// that none of these bits is set.
constexpr std::array<std::int64_t, 12> left_out_of = {0, 0, 0, 0, 3, 3, 3, 0, 0, 0, 0, 0};

double median_of(std::vector<double> values) {
  const auto half = static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), values.begin() + half, values.end());
  return values[static_cast<std::size_t>(half)];
}

Level level_of(const Moments& moments) {
  const auto n = static_cast<double>(moments.count());
  return {moments.mean(), n > 1 ? std::sqrt(moments.scatter() / (n - 1) / n) : 0,
          static_cast<std::size_t>(moments.count())};
}

template <class T>
double through_four(const T* at, double u) {
  const double a = u + 1, c = u - 1, d = u - 2;
  return static_cast<double>(at[-1]) * (u * c * d / -6) + static_cast<double>(at[0]) * (a * c * d / 2) +
         static_cast<double>(at[1]) * (a * u * d / -2) + static_cast<double>(at[2]) * (a * u * c / 6);
}

template <class T>
double through_six(const T* at, double u) {
  constexpr double denominators[6] = {-120, 24, -12, 12, -24, 120};
  double value = 0;
  for (int j = 0; j < 6; ++j) {
    double product = 1;
    for (int i = 0; i < 6; ++i) product *= i == j ? 1.0 : u - (i - 2);
    value += product / denominators[j] * static_cast<double>(at[j - 2]);
  }
  return value;
}

// Lagrange's polynomial through the samples around the centre: four where they lie close, six down to two samples to a
// channel bit; exact to 0.1 % of the eye.
template <class T>
std::optional<double> centre_of(std::span<const T> x, const Run& run) {
  const double middle = run.middle();
  if (!(middle >= 2)) return std::nullopt;
  const auto base = static_cast<std::ptrdiff_t>(middle);
  if (base + 3 >= static_cast<std::ptrdiff_t>(x.size())) return std::nullopt;
  const T* at = x.data() + base;
  const double u = middle - static_cast<double>(base);
  return run.period >= 3.0F ? through_four(at, u) : through_six(at, u);
}

// Keeps of `level` what is_stray(index) does not name; answers how many it named.
template <class IsStray>
std::size_t keep_others(std::vector<double>& level, IsStray is_stray) {
  std::size_t kept = 0;
  const std::size_t all = level.size();
  for (std::size_t i = 0; i < all; ++i) {
    if (!is_stray(i)) level[kept++] = level[i];
  }
  level.resize(kept);
  return all - kept;
}

// Leaves out what lies further than `slack` from the usual and from those around it: a spot that the envelope was too
// coarse for.
std::size_t drop_strays_around(std::vector<double>& level, const std::vector<double>& above, double slack) {
  constexpr std::size_t reach = 4;
  if (above.empty()) return 0;
  const double usual = median_of(above);
  return keep_others(level, [&](std::size_t i) {
    if (!(std::abs(above[i] - usual) > slack)) return false;
    const std::size_t from = i < reach ? 0 : i - reach, to = std::min(above.size(), i + reach + 1);
    const double around =
        median_of({above.begin() + static_cast<std::ptrdiff_t>(from), above.begin() + static_cast<std::ptrdiff_t>(to)});
    return std::abs(above[i] - around) > slack;
  });
}

// Leaves out what lies further than `slack` from the usual: samples with a wrong bit. There are so many 3T runs that
// some of them say what is usual.
std::size_t drop_strays(std::vector<double>& level, const std::vector<double>& above, double slack) {
  if (above.empty()) return 0;
  constexpr std::size_t asked_most = 500;
  std::vector<double> some;
  for (std::size_t i = 0; i < above.size(); i += 1 + above.size() / asked_most) some.push_back(above[i]);
  const double usual = median_of(std::move(some));
  return keep_others(level, [&](std::size_t i) { return std::abs(above[i] - usual) > slack; });
}

}  // namespace

void LevelSums::take(const signal::CodesView& codes, std::span<const Run> runs) {
  std::visit([&](const auto& x) { take_runs(x, runs); }, codes);
}

void LevelSums::end_part() {
  const bool both = !low_.longest.above.empty() && !high_.longest.above.empty();
  const double height = both ? std::abs(median_of(high_.longest.above) - median_of(low_.longest.above))
                             : std::numeric_limits<double>::infinity();
  constexpr double part = 0.1;  // of the eye: further off is a stray
  close(low_, part * height);
  close(high_, part * height);
}

void LevelSums::close(Side& side, double slack) {
  left_out_ += drop_strays_around(side.longest.level, side.longest.above, slack);
  left_out_ += drop_strays(side.shortest.level, side.shortest.above, slack);
  for (const double level : side.longest.level) side.levels[efm::run_max].add(level);
  for (const double level : side.shortest.level) side.levels[efm::run_min].add(level);
  for (Part* part : {&side.longest, &side.shortest}) {
    part->level.clear();
    part->above.clear();
  }
}

template <class T>
void LevelSums::take_runs(std::span<const T> x, std::span<const Run> runs) {
  // First which, then what: a processor that does not have to guess the kind of each run is twice as fast.
  std::array<std::uint32_t, 64> chosen;
  for (std::size_t i = 0; i < runs.size();) {
    std::size_t count = 0;
    for (; i < runs.size() && count < chosen.size(); ++i) {
      const auto n = static_cast<std::size_t>(runs[i].length);
      const std::int64_t seen = (runs[i].high ? high_ : low_).seen[n]++;
      chosen[count] = static_cast<std::uint32_t>(i);
      count += (seen & left_out_of[n]) == 0 ? 1 : 0;
    }
    for (std::size_t c = 0; c < count; ++c) {
      const Run& run = runs[chosen[c]];
      Side& side = run.high ? high_ : low_;
      if (run.length == efm::run_max) {
        take_longest(x, run, side);
      } else if (const auto level = centre_of(x, run)) {
        if (run.length == efm::run_min) side.shortest.add(*level, run.level);
        if (run.length != efm::run_min) side.levels[static_cast<std::size_t>(run.length)].add(*level);
      }
    }
  }
}

template <class T>
void LevelSums::take_longest(std::span<const T> x, const Run& run, Side& side) {
  const double half = settled_t * static_cast<double>(run.period), middle = run.middle();
  const auto from = static_cast<std::size_t>(std::ceil(std::max(0.0, middle - half)));
  const auto to = std::min(static_cast<std::size_t>(middle + half) + 1, x.size());
  if (to <= from) return;
  double sum = 0, squares = 0, clipped = 0;
  const auto reference = static_cast<double>(x[from]);
  for (std::size_t i = from; i < to; ++i) {
    const auto value = static_cast<double>(x[i]);
    const double off = value - reference;
    sum += off;
    squares += off * off;
    clipped += (run.high ? value >= rails_.high : value <= rails_.low) ? 1 : 0;
  }
  const auto n = static_cast<double>(to - from);
  side.settled += n;
  side.clipped += clipped;
  side.longest.add(reference + sum / n, run.level);
  squares_ += std::max(0.0, squares - sum * sum / n);
  freedom_ += n - 1;
}

EyeLevels LevelSums::result() const {
  EyeLevels levels;
  for (std::size_t n = efm::run_min; n <= efm::run_max; ++n) {
    if (low_.levels[n].count() > 0) levels.low[n] = level_of(low_.levels[n]);
    if (high_.levels[n].count() > 0) levels.high[n] = level_of(high_.levels[n]);
  }
  levels.left_out = left_out_;
  if (high_.settled > 0) levels.clipped_high = high_.clipped / high_.settled;
  if (low_.settled > 0) levels.clipped_low = low_.clipped / low_.settled;
  if (freedom_ > 0) levels.noise = std::sqrt(squares_ / freedom_);
  return levels;
}

}  // namespace eyelevel::disc::eye
