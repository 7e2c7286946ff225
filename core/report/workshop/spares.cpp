// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/spares.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/negative_binomial.hpp>
#include <chrono>
#include <cmath>
#include <map>
#include <tuple>

namespace eyelevel::report::workshop {

namespace {

double years_between(base::UtcTime begin, base::UtcTime end) {
  return std::chrono::duration<double, std::ratio<31556952>>(end - begin).count();
}

}  // namespace

std::int64_t count_ahead(std::int64_t seen, double over, double ahead, double probability) {
  const boost::math::negative_binomial counts(static_cast<double>(seen) + 0.5, over / (over + ahead));
  std::int64_t count = 0;
  while (boost::math::cdf(counts, static_cast<double>(count)) < probability) ++count;
  return count;
}

std::vector<SpareNeed> spares_of(std::span<const record::PickupBook> pickups, base::UtcTime now) {
  base::UtcTime first = now;
  for (const record::PickupBook& pickup : pickups)
    if (!pickup.stays.empty()) first = std::min(first, pickup.stays.front().fitted);
  const double years = years_between(first, now);
  std::map<std::string, SpareNeed> parts;
  for (const record::PickupBook& pickup : pickups) {
    SpareNeed& need = parts[pickup.part];
    need.part = pickup.part;
    need.years = years;
    ++need.pickups;
    need.inside += pickup.inside() != nullptr;
    for (const record::Stay& stay : pickup.stays) need.fitted_new += stay.pickup_h == 0.0;
  }
  std::vector<SpareNeed> list;
  for (auto& [part, need] : parts) {
    if (years >= least_years) {
      need.a_year = (static_cast<double>(need.fitted_new) + 0.5) / years;
      need.at_most = count_ahead(need.fitted_new, years, 1);
    }
    list.push_back(need);
  }
  std::sort(list.begin(), list.end(), [](const auto& a, const auto& b) {
    return std::tie(b.fitted_new, a.part) < std::tie(a.fitted_new, b.part);
  });
  return list;
}

std::vector<std::string> spares_table(std::span<const SpareNeed> needs) {
  std::vector<std::string> lines{fmt::format("{:<20} {:>8} {:>8} {:>12} {:>10} {:>22}", "part", "pickups", "inside",
                                             "fitted new", "in years", "next year, at most")};
  for (const SpareNeed& need : needs)
    lines.push_back(fmt::format("{:<20} {:>8} {:>8} {:>12} {:>10.1f} {:>22}",
                                need.part.empty() ? "(part not said)" : need.part, need.pickups, need.inside,
                                need.fitted_new, need.years,
                                need.at_most ? fmt::format("{} (95 %)", *need.at_most) : "too early to say"));
  return lines;
}

}  // namespace eyelevel::report::workshop
