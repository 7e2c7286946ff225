// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/derived.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/base/error.hpp"
#include "core/metrology/combine.hpp"

namespace eyelevel::metrology {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

void require_value(const Reading& reading) {
  if (!std::isfinite(reading.value)) {
    refuse(fmt::format("reading \"{}\" has the value {}, expected a number", reading.name, reading.value));
  }
}

void require_one_unit(const char* measure, const Reading& a, const Reading& b) {
  if (a.unit == b.unit) return;
  refuse(fmt::format("{}: \"{}\" is in {}, \"{}\" in {}; expected one unit", measure, a.name, a.unit, b.name, b.unit));
}

struct Term {
  const Reading* reading;
  double sensitivity;
};

// Budget, count, inputs and span of a combination; its value is the caller's.
Reading combined(const char* measure, std::span<const Term> terms) {
  Reading result;
  result.measure = measure;
  result.from_s = terms.front().reading->from_s;
  result.until_s = terms.front().reading->until_s;
  std::vector<Contribution> budget;
  for (const Term& term : terms) {
    const Reading& reading = *term.reading;
    require_value(reading);
    for (Contribution contribution : reading.contributions) {
      contribution.effect *= term.sensitivity;
      budget.push_back(std::move(contribution));
    }
    result.count += reading.count;
    if (reading.tried) result.tried = result.tried.value_or(0) + *reading.tried;
    result.from_s = std::min(result.from_s, reading.from_s);
    result.until_s = std::max(result.until_s, reading.until_s);
    if (!reading.name.empty()) result.inputs.push_back(reading.name);
  }
  if (result.tried) {
    for (const Term& term : terms) {
      if (!term.reading->tried) *result.tried += term.reading->count;
    }
  }
  result.contributions = merged(budget);
  result.interval = combine(result.contributions, terms.front().reading->interval.coverage_probability);
  return result;
}

template <class Better>
Reading chosen(const char* measure, std::span<const Reading> readings, Better better) {
  if (readings.empty()) refuse(fmt::format("{} no readings: expected one or more", measure));
  const Reading* best = &readings.front();
  for (const Reading& reading : readings) {
    require_value(reading);
    require_one_unit(measure, readings.front(), reading);
    if (better(reading.value, best->value)) best = &reading;
  }
  Reading result = *best;
  result.name.clear();
  result.of.clear();
  result.measure = measure;
  result.limit.reset();
  result.judgement.reset();
  result.inputs.clear();
  for (const Reading& reading : readings) {
    if (!reading.name.empty()) result.inputs.push_back(reading.name);
  }
  if (!best->name.empty()) result.notes.push_back(fmt::format("it is {}", best->name));
  return result;
}

}  // namespace

Reading mean_of(std::span<const Reading> readings) {
  if (readings.empty()) refuse("mean of no readings: expected one or more");
  const double share = 1 / static_cast<double>(readings.size());
  std::vector<Term> terms;
  double value = 0;
  for (const Reading& reading : readings) {
    require_one_unit("mean of", readings.front(), reading);
    terms.push_back({&reading, share});
    value += share * reading.value;
  }
  Reading result = combined("mean of", terms);
  result.value = value;
  result.unit = readings.front().unit;
  return result;
}

Reading sum_of(const Reading& a, const Reading& b) {
  require_one_unit("sum of", a, b);
  Reading result = combined("sum of", std::array{Term{&a, 1}, Term{&b, 1}});
  result.value = a.value + b.value;
  result.unit = a.unit;
  return result;
}

Reading difference_of(const Reading& a, const Reading& b) {
  require_one_unit("difference of", a, b);
  Reading result = combined("difference of", std::array{Term{&a, 1}, Term{&b, -1}});
  result.value = a.value - b.value;
  result.unit = a.unit;
  return result;
}

Reading product_of(const Reading& a, const Reading& b) {
  require_value(a);
  require_value(b);
  Reading result = combined("product of", std::array{Term{&a, b.value}, Term{&b, a.value}});
  result.value = a.value * b.value;
  result.unit = b.unit == "1" ? a.unit : a.unit == "1" ? b.unit : a.unit + " " + b.unit;
  return result;
}

Reading ratio_of(const Reading& a, const Reading& b) {
  require_value(b);
  if (b.value == 0) refuse(fmt::format("ratio of \"{}\" to \"{}\", which is 0", a.name, b.name));
  Reading result = combined("ratio of", std::array{Term{&a, 1 / b.value}, Term{&b, -a.value / (b.value * b.value)}});
  result.value = a.value / b.value;
  result.unit = a.unit == b.unit ? "1" : a.unit + "/" + b.unit;
  return result;
}

Reading largest_of(std::span<const Reading> readings) {
  return chosen("largest of", readings, [](double a, double b) { return a > b; });
}

Reading smallest_of(std::span<const Reading> readings) {
  return chosen("smallest of", readings, [](double a, double b) { return a < b; });
}

double correlation_of(const Reading& a, const Reading& b) {
  const double u_a = combine(a.contributions).standard_uncertainty;
  const double u_b = combine(b.contributions).standard_uncertainty;
  if (u_a == 0 || u_b == 0) return 0;
  return std::clamp(covariance(a.contributions, b.contributions) / (u_a * u_b), -1.0, 1.0);
}

}  // namespace eyelevel::metrology
