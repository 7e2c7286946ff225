// SPDX-License-Identifier: Apache-2.0
// The declaration is reading.hpp's. Here: equal sources are added, the rest goes to Coverage.
#include "core/metrology/combine.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/base/error.hpp"
#include "core/metrology/coverage.hpp"

namespace eyelevel::metrology {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

void require_usable(const Contribution& contribution) {
  if (!std::isfinite(contribution.effect)) {
    refuse(
        fmt::format("contribution \"{}\" has effect {}, expected a number", contribution.source, contribution.effect));
  }
  if (!(contribution.degrees_of_freedom >= 1)) {
    refuse(fmt::format("contribution \"{}\" has {} degrees of freedom, expected 1 or more", contribution.source,
                       contribution.degrees_of_freedom));
  }
}

}  // namespace

std::vector<Contribution> merged(const std::vector<Contribution>& contributions) {
  std::vector<Contribution> result;
  result.reserve(contributions.size());
  for (const Contribution& contribution : contributions) {
    require_usable(contribution);
    const auto same = std::find_if(result.begin(), result.end(), [&](const Contribution& other) {
      return !contribution.source.empty() && other.source == contribution.source;
    });
    if (same == result.end()) {
      result.push_back(contribution);
      continue;
    }
    if (same->shape != contribution.shape) {
      refuse(fmt::format("contribution \"{}\" comes with two shapes: one physical error has one", contribution.source));
    }
    same->effect += contribution.effect;
    same->degrees_of_freedom = std::min(same->degrees_of_freedom, contribution.degrees_of_freedom);
  }
  return result;
}

double effective_degrees_of_freedom(const std::vector<Contribution>& contributions) {
  double squares = 0;
  double fourths = 0;
  for (const Contribution& c : merged(contributions)) {
    const double square = c.effect * c.effect;
    squares += square;
    if (std::isfinite(c.degrees_of_freedom)) fourths += square * square / c.degrees_of_freedom;
  }
  if (fourths == 0) return std::numeric_limits<double>::infinity();
  return squares * squares / fourths;
}

Interval combine(const std::vector<Contribution>& contributions, double coverage_probability) {
  if (!(coverage_probability > 0 && coverage_probability < 1)) {
    refuse(fmt::format("coverage probability {}, expected between 0 and 1", coverage_probability));
  }
  const std::vector<Contribution> sources = merged(contributions);
  double squares = 0;
  for (const Contribution& c : sources) squares += c.effect * c.effect;
  Interval interval;
  interval.coverage_probability = coverage_probability;
  interval.standard_uncertainty = std::sqrt(squares);
  interval.degrees_of_freedom = effective_degrees_of_freedom(sources);
  interval.expanded_uncertainty = coverage_half_width(sources, coverage_probability);
  return interval;
}

Interval combine_by_gum(const std::vector<Contribution>& contributions, double coverage_probability) {
  Interval interval = combine(contributions, coverage_probability);
  interval.expanded_uncertainty =
      interval.standard_uncertainty * student_two_sided(std::floor(interval.degrees_of_freedom), coverage_probability);
  return interval;
}

double covariance(const std::vector<Contribution>& a, const std::vector<Contribution>& b) {
  const std::vector<Contribution> left = merged(a);
  const std::vector<Contribution> right = merged(b);
  double sum = 0;
  for (const Contribution& l : left) {
    for (const Contribution& r : right) {
      if (!l.source.empty() && l.source == r.source) sum += l.effect * r.effect;
    }
  }
  return sum;
}

}  // namespace eyelevel::metrology
