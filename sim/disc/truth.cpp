// SPDX-License-Identifier: Apache-2.0
#include "sim/disc/truth.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "core/disc/efm/code.hpp"
#include "sim/disc/optics.hpp"

namespace eyelevel::sim {
namespace {

// The signal of a window as a sum of edges, without jitter.
class Signal {
 public:
  Signal(const EdgeWindow& window, const EyeShape& shape)
      : window_(window), shape_(shape), reach_(blur_reach * shape.sigma_t + 1 + std::abs(shape.pit_lengthening_t)) {}

  std::size_t edges() const { return window_.edges.size(); }
  bool is_land_after(std::size_t edge) const { return window_.land_before == (edge % 2 != 0); }
  double reach() const { return reach_; }
  std::int32_t nominal(std::size_t edge) const { return window_.edges[edge]; }
  // Places count from the window's first bit.
  double place(std::size_t edge) const {
    return nominal(edge) + (is_land_after(edge) ? 0.5 : -0.5) * shape_.pit_lengthening_t;
  }

  double at(double x) const {
    return sum(x - reach_, x + reach_, 1, [&](double e) { return edge_response(x - e, shape_.sigma_t); });
  }

  double mean(double from, double until) const {
    const double width = until - from;
    return sum(from - reach_, until + reach_, width,
               [&](double e) {
                 return edge_response_integral(until - e, shape_.sigma_t) -
                        edge_response_integral(from - e, shape_.sigma_t);
               }) /
           width;
  }

 private:
  template <class Part>
  double sum(double first, double last, double width, const Part& part) const {
    const auto begin = std::ranges::lower_bound(window_.edges, first, {}, [](std::int32_t e) { return double(e); });
    auto edge = static_cast<std::size_t>(begin - window_.edges.begin());
    const bool land = edge == 0 ? window_.land_before : is_land_after(edge - 1);
    double total = land ? width : -width;
    for (; edge < edges() && nominal(edge) < last; ++edge) total += (is_land_after(edge) ? 2 : -2) * part(place(edge));
    return total;
  }

  const EdgeWindow& window_;
  const EyeShape& shape_;
  double reach_;
};

// Calls back with the centre of every run of `length` whose surroundings are in the window.
template <class Visit>
void for_runs(const Signal& signal, const EdgeWindow& window, int length, const Visit& visit) {
  const auto width = static_cast<double>(window.until_bit - window.first_bit);
  const double margin = signal.reach() + length;
  for (std::size_t edge = 0; edge + 1 < signal.edges(); ++edge) {
    if (signal.nominal(edge + 1) - signal.nominal(edge) != length) continue;
    const double centre = 0.5 * (signal.place(edge) + signal.place(edge + 1));
    if (centre < margin || centre > width - margin) continue;
    visit(centre, signal.is_land_after(edge));
  }
}

}  // namespace

SettledLevels settled_levels(const EdgeWindow& window, const EyeShape& shape, double central_t) {
  const Signal signal(window, shape);
  SettledLevels levels;
  double land = 0, pit = 0;
  for_runs(signal, window, disc::efm::run_max, [&](double centre, bool is_land) {
    const double level =
        central_t > 0 ? signal.mean(centre - central_t / 2, centre + central_t / 2) : signal.at(centre);
    (is_land ? land : pit) += level;
    ++(is_land ? levels.lands : levels.pits);
  });
  if (levels.lands > 0) levels.land = land / static_cast<double>(levels.lands);
  if (levels.pits > 0) levels.pit = pit / static_cast<double>(levels.pits);
  return levels;
}

double mean_level(const EdgeWindow& window, const EyeShape& shape, double from_bit, double until_bit) {
  const auto first = static_cast<double>(window.first_bit);
  return Signal(window, shape).mean(from_bit - first, until_bit - first);
}

ShortRunLevels short_run_levels(const EdgeWindow& window, const EyeShape& shape) {
  const Signal signal(window, shape);
  ShortRunLevels levels;
  for_runs(signal, window, disc::efm::run_min, [&](double centre, bool is_land) {
    (is_land ? levels.land : levels.pit) += signal.at(centre);
    ++(is_land ? levels.lands : levels.pits);
  });
  if (levels.lands > 0) levels.land /= static_cast<double>(levels.lands);
  if (levels.pits > 0) levels.pit /= static_cast<double>(levels.pits);
  return levels;
}

}  // namespace eyelevel::sim
