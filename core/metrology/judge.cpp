// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/judge.hpp"

#include <fmt/format.h>

#include <boost/math/distributions/normal.hpp>
#include <cmath>

#include "core/base/error.hpp"

namespace eyelevel::metrology {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

}  // namespace

void require_usable(const Limit& limit) {
  if (!limit.at_least && !limit.at_most) refuse("limit has no side: expected at least, at most, or both");
  for (const auto& side : {limit.at_least, limit.at_most}) {
    if (side && !std::isfinite(*side)) refuse(fmt::format("limit at {}, expected a number", *side));
  }
  if (limit.at_least && limit.at_most && *limit.at_least > *limit.at_most) {
    refuse(fmt::format("limit from {} to {}: nothing lies inside", *limit.at_least, *limit.at_most));
  }
}

Judgement judge(double value, double expanded_uncertainty, const Limit& limit) {
  require_usable(limit);
  if (!std::isfinite(value)) refuse(fmt::format("value to judge is {}, expected a number", value));
  if (!(expanded_uncertainty >= 0) || !std::isfinite(expanded_uncertainty)) {
    refuse(fmt::format("expanded uncertainty is {}, expected 0 or more", expanded_uncertainty));
  }
  const double low = value - expanded_uncertainty;
  const double high = value + expanded_uncertainty;
  if ((limit.at_least && high < *limit.at_least) || (limit.at_most && low > *limit.at_most)) return Judgement::fail;
  if ((limit.at_least && low < *limit.at_least) || (limit.at_most && high > *limit.at_most)) {
    return Judgement::undecided;
  }
  return Judgement::pass;
}

bool can_pass(double expanded_uncertainty, const Limit& limit) {
  require_usable(limit);
  return !limit.at_least || !limit.at_most || *limit.at_most - *limit.at_least >= 2 * expanded_uncertainty;
}

double probability_of_conformity(double value, double standard_uncertainty, const Limit& limit) {
  require_usable(limit);
  if (!std::isfinite(value) || !(standard_uncertainty > 0) || !std::isfinite(standard_uncertainty)) {
    refuse(fmt::format("value {} with standard uncertainty {}: expected numbers, the second above 0", value,
                       standard_uncertainty));
  }
  const boost::math::normal state(value, standard_uncertainty);
  const double below = limit.at_most ? boost::math::cdf(state, *limit.at_most) : 1;
  return below - (limit.at_least ? boost::math::cdf(state, *limit.at_least) : 0);
}

}  // namespace eyelevel::metrology
