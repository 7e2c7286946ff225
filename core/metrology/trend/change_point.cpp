// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/trend/change_point.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology::trend {

namespace {

struct Split {
  std::size_t after = 0;
  double t = -1;
};

// In one pass: sums of deviations from the mean give both means and what is left of the squares.
Split largest_split(std::span<const double> values) {
  const Statistics s = statistics(values);
  const double n = static_cast<double>(values.size());
  const double squares = s.sd * s.sd * (n - 1);
  Split best;
  double sum = 0;
  for (std::size_t i = 1; i + least_part <= values.size(); ++i) {
    sum += values[i - 1] - s.mean;
    if (i < least_part) continue;
    const double before = static_cast<double>(i);
    const double explained = sum * sum * n / (before * (n - before));
    const double left = std::max(0.0, squares - explained);
    const bool is_all = left <= 1e-14 * squares;  // what rounding leaves of two constant parts
    const double t = explained == 0 ? 0
                     : is_all       ? std::numeric_limits<double>::infinity()
                                    : std::sqrt(explained * (n - 2) / left);
    if (t > best.t) best = {i, t};
  }
  return best;
}

std::size_t farthest_sum(std::span<const double> values) {
  const double mean = statistics(values).mean;
  double sum = 0;
  double farthest = -1;
  std::size_t after = 0;
  for (std::size_t i = 1; i < values.size(); ++i) {
    sum += values[i - 1] - mean;
    if (std::abs(sum) > farthest) {
      farthest = std::abs(sum);
      after = i;
    }
  }
  return after;
}

void require_enough(std::size_t count) {
  if (count >= 2 * least_part) return;
  throw base::Error(base::ErrorCode::bad_input,
                    fmt::format("{} values for a change of their mean: expected {} or more", count, 2 * least_part));
}

}  // namespace

double chance_of_largest_t(double t, std::size_t count) {
  require_enough(count);
  constexpr int series = 2000;
  base::Random random(1, "change point");  // the same series each time, so that an answer does not change
  std::vector<double> values(count);
  int beyond = 0;
  for (int i = 0; i < series; ++i) {
    for (double& v : values) v = random.normal();
    beyond += largest_split(values).t >= t;
  }
  return (beyond + 1.0) / (series + 1.0);
}

ChangePoint change_point(std::span<const double> in_order) {
  require_enough(in_order.size());
  const Split split = largest_split(in_order);
  const Statistics before = statistics(in_order.first(split.after));
  const Statistics after = statistics(in_order.subspan(split.after));
  ChangePoint result;
  result.after = split.after;
  result.mean_before = before.mean;
  result.mean_after = after.mean;
  const double squares = before.sd * before.sd * static_cast<double>(before.count - 1) +
                         after.sd * after.sd * static_cast<double>(after.count - 1);
  result.pooled_sd = std::sqrt(squares / static_cast<double>(in_order.size() - 2));
  result.largest_t = split.t;
  result.chance = chance_of_largest_t(split.t, in_order.size());
  result.after_by_sums = farthest_sum(in_order);
  return result;
}

}  // namespace eyelevel::metrology::trend
