// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/gauge_plan.hpp"

#include <fmt/format.h>

#include <set>
#include <utility>

#include "core/base/error.hpp"
#include "core/base/random.hpp"

namespace eyelevel::report::workshop {

using base::Error;
using base::ErrorCode;

namespace {

constexpr std::size_t jobs_most = 10'000;

void require_several(const std::vector<std::string>& names, std::string_view what) {
  if (names.size() < 2)
    throw Error(ErrorCode::bad_input, fmt::format("a gauge study of {} {}: two are the least", names.size(), what),
                "ten units, three operators and three repeats are usual");
  std::set<std::string> seen;
  for (const std::string& name : names)
    if (!seen.insert(name).second)
      throw Error(ErrorCode::bad_input, fmt::format("{} is among the {} twice", base::escaped(name), what));
}

}  // namespace

std::string_view name_of(By by) { return by == By::benches ? "bench" : "operator"; }
std::string_view names_of(By by) { return by == By::benches ? "benches" : "operators"; }

void require_usable(const GaugeParts& parts) {
  require_several(parts.units, "units");
  require_several(parts.who, names_of(parts.by));
  if (parts.repeats < 2)
    throw Error(ErrorCode::bad_input, "each unit is to be measured once by each: two repeats are the least");
  if (parts.units.size() > jobs_most || parts.who.size() > jobs_most || parts.repeats > jobs_most ||
      parts.units.size() * parts.who.size() * parts.repeats > jobs_most)
    throw Error(ErrorCode::bad_input, fmt::format("a gauge study of more than {} jobs", jobs_most));
}

std::vector<GaugeJob> plan_gauge(const GaugeParts& parts, std::uint64_t seed) {
  require_usable(parts);
  base::Random random(seed, "gauge study");
  std::vector<GaugeJob> jobs;
  for (std::size_t repeat = 1; repeat <= parts.repeats; ++repeat) {
    const std::size_t begin = jobs.size();
    for (const std::string& unit : parts.units)
      for (const std::string& who : parts.who) jobs.push_back({0, unit, who, repeat});
    for (std::size_t left = jobs.size() - begin; left > 1; --left)  // Fisher and Yates
      std::swap(jobs[begin + left - 1], jobs[begin + random.below(left)]);
  }
  for (std::size_t i = 0; i < jobs.size(); ++i) jobs[i].place = i + 1;
  return jobs;
}

namespace {

std::string csv_field(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

}  // namespace

std::string plan_csv(std::span<const GaugeJob> jobs, By by) {
  std::string text = fmt::format("order,unit,{},repeat\n", name_of(by));
  for (const GaugeJob& job : jobs)
    text += fmt::format("{},{},{},{}\n", job.place, csv_field(job.unit), csv_field(job.who), job.repeat);
  return text;
}

}  // namespace eyelevel::report::workshop
