// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/population/good_units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "core/base/error.hpp"
#include "core/metrology/outliers.hpp"
#include "core/metrology/statistics.hpp"

namespace eyelevel::metrology::population {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

void require_usable(std::span<const GoodUnit> units) {
  if (units.empty()) refuse("a reference of no units: at least one known good unit is needed, better five or more");
  std::set<std::string> names;
  for (const GoodUnit& unit : units) {
    if (!std::isfinite(unit.value)) {
      refuse(fmt::format("unit {} reads {}, expected a number", unit.name, unit.value));
    }
    if (!names.insert(unit.name).second) {
      refuse(fmt::format("unit {} stands twice among the known good units; each counts once: average its readings",
                         unit.name));
    }
  }
}

std::vector<double> values_of(std::span<const GoodUnit> units) {
  std::vector<double> values;
  for (const GoodUnit& unit : units) values.push_back(unit.value);
  return values;
}

double factor_for(std::size_t count, const ReferenceOptions& options) {
  return options.sides == Sides::both ? tolerance_factor_two_sided(count, options.stated)
                                      : tolerance_factor_one_sided(count, options.stated);
}

Limit limit_of(const Statistics& s, double factor, Sides sides) {
  Limit limit;
  if (sides != Sides::at_most) limit.at_least = s.mean - factor * s.sd;
  if (sides != Sides::at_least) limit.at_most = s.mean + factor * s.sd;
  return limit;
}

std::vector<DoubtfulUnit> doubtful_among(std::span<const GoodUnit> units, double significance) {
  std::vector<DoubtfulUnit> doubtful;
  if (units.size() < 3) return doubtful;
  const std::size_t most = units.size() < 8 ? 1 : std::max<std::size_t>(2, units.size() / 10);
  const Outliers found = extreme_deviates(values_of(units), most, significance);
  for (std::size_t i = 0; i < found.places.size(); ++i) {
    doubtful.push_back({units[found.places[i]], found.statistic[i], found.critical[i]});
  }
  return doubtful;
}

std::optional<Limit> limit_without(std::span<const GoodUnit> units, const std::vector<DoubtfulUnit>& doubtful,
                                   const ReferenceOptions& options) {
  if (doubtful.empty()) return std::nullopt;
  std::vector<double> kept;
  for (const GoodUnit& unit : units) {
    const auto is_this = [&](const DoubtfulUnit& d) { return d.unit.name == unit.name; };
    if (std::none_of(doubtful.begin(), doubtful.end(), is_this)) kept.push_back(unit.value);
  }
  return limit_of(statistics(kept), factor_for(kept.size(), options), options.sides);
}

std::vector<std::string> warnings_for(const UnitsReference& reference) {
  std::vector<std::string> warnings;
  if (reference.count == 1) {
    warnings.emplace_back(
        "only one unit stands behind this reference: how far good units differ is not known, so there "
        "are no limits; measure more known good units");
    return warnings;
  }
  if (reference.count == 2) {
    warnings.push_back(
        fmt::format("only two units stand behind this reference: their difference hardly tells how far "
                    "good units differ, so the limits lie {:.3g} standard deviations out; measure more "
                    "known good units",
                    *reference.factor));
  }
  if (reference.sd == 0) {
    warnings.emplace_back("all units read the same, so the limits have no width: were they read too coarsely?");
  }
  for (const DoubtfulUnit& d : reference.doubtful) {
    warnings.push_back(
        fmt::format("unit {} reads {:.4g} and does not fit among the others ({:.2f} standard deviations "
                    "out, {:.2f} expected at most); it is still part of the limits",
                    d.unit.name, d.unit.value, d.statistic, d.critical));
  }
  return warnings;
}

}  // namespace

UnitsReference reference_from_units(std::span<const GoodUnit> units, const ReferenceOptions& options) {
  require_usable(units);
  const Statistics s = statistics(values_of(units));
  UnitsReference reference;
  reference.count = s.count;
  reference.mean = s.mean;
  reference.sd = s.sd;
  if (s.count >= 2) {
    reference.factor = factor_for(s.count, options);
    reference.limit = limit_of(s, *reference.factor, options.sides);
    reference.doubtful = doubtful_among(units, options.outlier_significance);
    reference.without_doubtful = limit_without(units, reference.doubtful, options);
  }
  reference.warnings = warnings_for(reference);
  return reference;
}

}  // namespace eyelevel::metrology::population
