// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/chart/limits.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/base/error.hpp"
#include "core/metrology/chart/constants.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology::chart {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

ChartLimits around(double centre, double point_sigma, double within_sigma, const Limits& spread) {
  return {{centre - 3 * point_sigma, centre, centre + 3 * point_sigma}, spread, point_sigma, within_sigma};
}

}  // namespace

std::vector<double> moving_ranges(std::span<const double> in_order) {
  std::vector<double> ranges;
  for (std::size_t i = 1; i < in_order.size(); ++i) ranges.push_back(std::abs(in_order[i] - in_order[i - 1]));
  return ranges;
}

ChartLimits individuals(std::span<const double> in_order) {
  if (in_order.size() < 2) refuse(fmt::format("a chart from {} readings: two or more are needed", in_order.size()));
  const Constants pair = constants_for(2);
  const double centre = statistics(in_order).mean;
  const double range = statistics(moving_ranges(in_order)).mean;
  const double sigma = range / pair.d2;
  return around(centre, sigma, sigma, {pair.range_low * range, range, pair.range_high * range});
}

SamplePoint point_of(std::span<const double> sample, SpreadBy by) {
  if (sample.size() < 2) refuse(fmt::format("a sample of {}: two readings or more are needed", sample.size()));
  const Statistics s = statistics(sample);
  if (by == SpreadBy::standard_deviation) return {s.mean, s.sd};
  const auto [least, most] = std::minmax_element(sample.begin(), sample.end());
  return {s.mean, *most - *least};
}

ChartLimits averages(std::span<const std::vector<double>> samples, SpreadBy by) {
  if (samples.empty()) refuse("a chart from no samples: at least one is needed");
  std::vector<double> means;
  std::vector<double> spreads;
  for (std::size_t i = 0; i < samples.size(); ++i) {
    if (samples[i].size() != samples[0].size()) {
      refuse(fmt::format("sample {} holds {} readings, the first {}: limits are for samples of one size", i,
                         samples[i].size(), samples[0].size()));
    }
    const SamplePoint point = point_of(samples[i], by);
    means.push_back(point.mean);
    spreads.push_back(point.spread);
  }
  const Constants c = constants_for(samples[0].size());
  const double spread = statistics(spreads).mean;
  const bool by_range = by == SpreadBy::range;
  const double sigma = spread / (by_range ? c.d2 : c.c4);
  const Limits of_spread = by_range ? Limits{c.range_low * spread, spread, c.range_high * spread}
                                    : Limits{c.sd_low * spread, spread, c.sd_high * spread};
  return around(statistics(means).mean, sigma / std::sqrt(static_cast<double>(samples[0].size())), sigma, of_spread);
}

}  // namespace eyelevel::metrology::chart
