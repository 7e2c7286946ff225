// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/balance.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>
#include <vector>

#include "core/disc/clock/kernels.hpp"

namespace eyelevel::disc::clock {
namespace {

constexpr std::size_t window = LocalClock::edges_each;
constexpr std::size_t few = 16;  // runs, fewer tell nothing

// One value for each window, empty where the clock is not locked.
using PerWindow = std::vector<double>;
constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

// Fills what is unknown from the neighbours, and smooths 1-2-1.
void complete(PerWindow& values, double otherwise, bool smooth) {
  const auto known = std::find_if(values.begin(), values.end(), [](double v) { return !std::isnan(v); });
  double last = known == values.end() ? otherwise : *known;
  for (double& v : values) {
    if (std::isnan(v)) v = last;
    last = v;
  }
  if (!smooth) return;
  const PerWindow raw = values;
  for (std::size_t i = 0; i < raw.size(); ++i) {
    values[i] = 0.25 * raw[i == 0 ? 0 : i - 1] + 0.5 * raw[i] + 0.25 * raw[std::min(raw.size() - 1, i + 1)];
  }
}

// Channel bit in samples, from edges of one direction, over the window and half of each neighbour.
PerWindow periods_of(const Edges& edges, const Lattice& lattice) {
  PerWindow periods((edges.size() + window - 1) / window, unknown);
  auto stretch = lattice.stretches.begin();
  for (std::size_t w = 0; w < periods.size(); ++w) {
    const std::size_t from = w * window, to = std::min(edges.size(), from + window);
    while (stretch != lattice.stretches.end() && stretch->last <= from) ++stretch;
    for (auto s = stretch; s != lattice.stretches.end() && s->first < to; ++s) {
      const std::size_t left = std::max(s->first, from < window / 2 ? 0 : from - window / 2);
      std::size_t right = std::min(s->last, to + window / 2 - 1);
      if (right <= left + few) continue;
      right -= (right - left) & 1;
      const auto bits = static_cast<double>(lattice.bit[right] - lattice.bit[left]);
      if (bits > 0) periods[w] = (edges.at[right] - edges.at[left]) / bits;
      break;
    }
  }
  complete(periods, lattice.period, false);
  return periods;
}

// How far the level must rise so that lands and pits last as long as their channel bits say, in codes.
PerWindow level_errors(const Edges& edges, const Lattice& lattice, const PerWindow& periods) {
  std::vector<kernels::WindowRuns> runs(periods.size());
  kernels::sum_runs(edges.at, lattice.length, window, runs);
  PerWindow errors(periods.size(), unknown);
  const double codes = (edges.first_rises ? edges.slope : -edges.slope) / 2;
  for (std::size_t w = 0; w < periods.size(); ++w) {
    if (runs[w].count >= few) errors[w] = (runs[w].samples - runs[w].bits * periods[w]) / runs[w].count * codes;
  }
  complete(errors, 0, true);
  return errors;
}

// Calls visit(first edge, value for it and each of the following ones), some at a time: values hold at the middles of
// the windows, straight lines between.
template <class Visit>
void at_edges(const PerWindow& values, std::size_t edges, Visit visit) {
  std::array<float, window> some;
  for (std::size_t k = 0; k < edges;) {
    const bool before_first = k < window / 2;
    const std::size_t w = before_first ? 0 : (k - window / 2) / window;
    const std::size_t n = std::min(before_first ? window / 2 : window, edges - k);
    const bool is_line = !before_first && w + 1 < values.size();
    const float step = is_line ? static_cast<float>((values[w + 1] - values[w]) / window) : 0.0F;
    const float first = static_cast<float>(values[w]) + 0.5F * step;
    for (std::uint32_t i = 0; i < n; ++i) some[i] = first + static_cast<float>(static_cast<std::int32_t>(i)) * step;
    visit(k, std::span<const float>(some.data(), n));
    k += n;
  }
}

}  // namespace

LocalClock balance(const signal::CodesView& codes, double hysteresis, const Lattice& lattice, Edges& edges) {
  if (!lattice.found()) return {};
  // The first step may be large and needs the samples.
  const PerWindow periods = periods_of(edges, lattice);
  double steepness = 0;
  at_edges(level_errors(edges, lattice, periods), edges.size(), [&](std::size_t first, std::span<const float> rises) {
    steepness += reslice(codes, first, rises, hysteresis, edges);
  });
  steepness += kernels::block_sums(edges.step).sum;
  if (!(steepness > 0)) return {periods_of(edges, lattice)};
  edges.slope = steepness / static_cast<double>(edges.size());
  // What is left is small against the edge. The mean slope then need not be known well: it stands in the error, too.
  const double per_code = edges.first_rises ? 1 / edges.slope : -1 / edges.slope;
  at_edges(level_errors(edges, lattice, periods), edges.size(), [&](std::size_t first, std::span<const float> rises) {
    kernels::slide(rises, first % 2 == 0 ? per_code : -per_code, &edges.at[first], &edges.level[first]);
  });
  return {periods_of(edges, lattice)};
}

}  // namespace eyelevel::disc::clock
