// SPDX-License-Identifier: Apache-2.0
// Jobs that come by the clock: the bench proof every morning, a soak over night. A YAML file says which; times are of
// the clock on the wall (TZ of the daemon). Where nobody has started the last one yet, no second one is added.
#pragma once

#include <array>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/record/store/jobs.hpp"
#include "core/service/house.hpp"
#include "core/yaml/load.hpp"
#include "core/yaml/mistake.hpp"

namespace eyelevel::service {

struct Schedule {
  std::string name;
  int minute = 0;                                                       // of the day
  std::array<bool, 7> on = {true, true, true, true, true, true, true};  // days of the week, Sunday first
  record::Job job;                                                      // as it is added, asked_by included
};

struct SchedulesRead {
  std::vector<Schedule> schedules;  // complete only if `mistakes.fine()`
  yaml::Mistakes mistakes;
};

// Whether the document is meant as one: its first key is `schedules`.
bool is_schedules(const yaml::Node& root);

// `why_not`: what keeps a job from being run here, or empty; told at the place of its sequence.
SchedulesRead read_schedules(yaml::Document document, const std::function<std::string(const record::Job&)>& why_not);

// The first time after `after`, and the last one up to `at`. Where a clock is set forward over it, it comes that much
// later; where it is set back, once.
base::UtcTime next_due(const Schedule& schedule, base::UtcTime after);
base::UtcTime last_due(const Schedule& schedule, base::UtcTime at);

// Of "07:30"; empty where the text is none. A day has no 24:00.
std::optional<int> minute_of_day(std::string_view text);
// "07:30", and "monday" ... "sunday" of the days on which it comes.
std::string time_text(const Schedule& schedule);
std::vector<std::string> days_of(const Schedule& schedule);

// Adds jobs when they are due, until cancelled. What came due while no daemon ran is added at once, if that is no more
// than `late_by` ago.
constexpr base::Duration late_by = std::chrono::hours(2);
task<> keep_schedules(House& house, std::vector<Schedule> schedules,
                      std::function<void(const std::string& bench)> wake);

}  // namespace eyelevel::service
