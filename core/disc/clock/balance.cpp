// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/balance.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>

#include "core/disc/efm/code.hpp"

namespace eyelevel::disc::clock {
namespace {

constexpr std::size_t window = 64;  // edges; even, so that lands and pits are equally many
constexpr std::size_t few = 16;     // runs, fewer tell nothing

// One value for each window, empty where the clock is not locked.
using PerWindow = std::vector<double>;
constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

std::size_t windows_of(std::size_t edges) { return (edges + window - 1) / window; }

// Channel bit in samples, from edges of one direction, over the window and half of each neighbour.
PerWindow periods_of(const Edges& edges, const Lattice& lattice) {
  PerWindow periods(windows_of(edges.size()), unknown);
  for (std::size_t w = 0; w < periods.size(); ++w) {
    const std::size_t from = w * window, to = std::min(edges.size(), from + window);
    for (const Stretch& s : lattice.stretches) {
      const std::size_t left = std::max(s.first, from < window / 2 ? 0 : from - window / 2);
      std::size_t right = std::min(s.last, to + window / 2 - 1);
      if (right <= left + few) continue;
      right -= (right - left) & 1;
      const auto bits = static_cast<double>(lattice.bit[right] - lattice.bit[left]);
      if (bits > 0) periods[w] = (edges.at[right] - edges.at[left]) / bits;
      break;
    }
  }
  return periods;
}

// How far the level must rise so that lands and pits last as long as their channel bits say, in codes.
PerWindow level_errors(const Edges& edges, const Lattice& lattice, const std::vector<std::uint8_t>& legal,
                       const PerWindow& periods) {
  PerWindow errors(periods.size(), unknown);
  for (std::size_t w = 0; w < periods.size(); ++w) {
    double sum = 0;
    std::size_t count = 0;
    const std::size_t to = std::min(edges.size(), (w + 1) * window);
    for (std::size_t k = w * window; k < to; ++k) {
      if (legal[k] == 0) continue;
      const double excess = edges.run(k) - static_cast<double>(lattice.bit[k + 1] - lattice.bit[k]) * periods[w];
      sum += edges.rises(k) ? excess : -excess;
      ++count;
    }
    if (count >= few) errors[w] = sum / static_cast<double>(count) * edges.slope / 2;
  }
  return errors;
}

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

// Calls visit(k, value) for every edge; values hold at the middles of the windows, straight lines between.
template <class Visit>
void at_edges(const PerWindow& values, std::size_t edges, Visit visit) {
  std::size_t k = 0;
  for (; k < std::min(edges, window / 2); ++k) visit(k, values.front());
  for (std::size_t w = 0; w + 1 < values.size() && k < edges; ++w) {
    const double step = (values[w + 1] - values[w]) / window;
    const std::size_t from = w * window + window / 2, end = std::min(edges, from + window);
    for (; k < end; ++k) visit(k, values[w] + (static_cast<double>(k - from) + 0.5) * step);
  }
  for (; k < edges; ++k) visit(k, values.back());
}

}  // namespace

std::vector<std::uint8_t> legal_runs(const Lattice& lattice, std::size_t edges) {
  std::vector<std::uint8_t> legal(edges, 0);
  for (const Stretch& s : lattice.stretches) {
    for (std::size_t k = s.first; k < s.last; ++k) {
      const std::int64_t bits = lattice.bit[k + 1] - lattice.bit[k];
      legal[k] = bits >= efm::run_min && bits <= efm::run_max ? 1 : 0;
    }
  }
  return legal;
}

Balance balance(const signal::CodesView& codes, double hysteresis, const Lattice& lattice, Edges& edges) {
  Balance result;
  result.level.resize(edges.size());
  for (std::size_t k = 0; k < edges.size(); ++k) result.level[k] = static_cast<double>(edges.level[k]);
  if (!lattice.found()) return result;
  const auto legal = legal_runs(lattice, edges.size());

  PerWindow periods, errors;
  for (int pass = 0; pass < 2; ++pass) {
    periods = periods_of(edges, lattice);
    complete(periods, lattice.period, false);
    errors = level_errors(edges, lattice, legal, periods);
    complete(errors, 0, true);
    // The first step may be large and needs the samples; what is left is small against the edge.
    const double shift = pass == 1 && edges.slope > 0 ? 1 / edges.slope : 0;
    at_edges(errors, edges.size(), [&](std::size_t k, double rise) {
      result.level[k] += rise;
      edges.at[k] += (edges.rises(k) ? shift : -shift) * rise;
    });
    if (pass == 0) reslice(codes, result.level, hysteresis, edges);
  }
  periods = periods_of(edges, lattice);
  complete(periods, lattice.period, false);
  result.period.resize(edges.size());
  for (std::size_t k = 0; k < edges.size(); ++k) result.period[k] = periods[k / window];

  double sum = 0;
  std::size_t count = 0;
  for (std::size_t k = 0; k < edges.size(); ++k) {
    if (legal[k] == 0) continue;
    sum += result.level[k];
    ++count;
  }
  if (count > 0) result.slice = sum / static_cast<double>(count);
  return result;
}

}  // namespace eyelevel::disc::clock
