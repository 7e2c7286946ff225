// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/study/one_way.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <limits>

#include "core/base/error.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology::study {

namespace {

void require_usable(std::span<const Group> groups) {
  const auto refuse = [](std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); };
  if (groups.size() < 2) refuse(fmt::format("{} groups to compare: expected two or more", groups.size()));
  for (const Group& group : groups)
    if (group.values.size() < 2)
      refuse(fmt::format("group {} has {} readings: expected two or more", group.name, group.values.size()));
}

// Chance of an F of this or more; none of it where nothing scatters below.
double chance_of(double above, double above_degrees, double below, double below_degrees) {
  if (!(below > 0)) return above > 0 ? 0 : 1;
  return boost::math::cdf(boost::math::complement(boost::math::fisher_f(above_degrees, below_degrees), above / below));
}

// What is known of the groups together.
struct Whole {
  double count = 0, sum = 0;
  double within_squares = 0, within_degrees = 0;
};

GroupAgainstOthers against_others(const Group& group, const Whole& whole, std::size_t groups, double probability) {
  const Statistics s = statistics(group.values);
  const double n = static_cast<double>(s.count);
  const double others = whole.count - n;
  const double degrees = n - 1;
  const double squares = degrees * s.sd * s.sd;
  const double tail = (1 - probability) / (2 * static_cast<double>(groups));
  const double t = boost::math::quantile(boost::math::complement(boost::math::students_t(whole.within_degrees), tail));
  const double sd = std::sqrt(whole.within_squares / whole.within_degrees);
  GroupAgainstOthers result{group.name, s.count, s.mean, s.sd};
  result.difference = s.mean - (whole.sum - n * s.mean) / others;
  result.half_width = t * sd * std::sqrt(1 / n + 1 / others);
  const double others_degrees = whole.within_degrees - degrees;
  const double chance =
      chance_of(squares / degrees, degrees, (whole.within_squares - squares) / others_degrees, others_degrees);
  result.scatter_p = std::min(1.0, chance * static_cast<double>(groups));
  return result;
}

}  // namespace

OneWay one_way(std::span<const Group> groups, double probability) {
  require_usable(groups);
  Whole whole;
  for (const Group& group : groups) {
    const Statistics s = statistics(group.values);
    const double n = static_cast<double>(s.count);
    whole.count += n;
    whole.sum += n * s.mean;
    whole.within_degrees += n - 1;
    whole.within_squares += (n - 1) * s.sd * s.sd;
  }
  OneWay result;
  result.between_degrees = static_cast<double>(groups.size()) - 1;
  result.within_degrees = whole.within_degrees;
  result.within_squares = whole.within_squares;
  for (const Group& group : groups) {
    const GroupAgainstOthers one = against_others(group, whole, groups.size(), probability);
    const double off = one.mean - whole.sum / whole.count;
    result.between_squares += static_cast<double>(one.count) * off * off;
    result.groups.push_back(one);
  }
  const double between = result.between_squares / result.between_degrees;
  const double within = result.within_squares / result.within_degrees;
  result.f = within > 0 ? between / within : between > 0 ? std::numeric_limits<double>::infinity() : 0;
  result.p = chance_of(between, result.between_degrees, within, result.within_degrees);
  return result;
}

}  // namespace eyelevel::metrology::study
