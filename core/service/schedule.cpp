// SPDX-License-Identifier: Apache-2.0
#include "core/service/schedule.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <ctime>
#include <memory>
#include <utility>

#include "core/base/error.hpp"
#include "core/yaml/fields.hpp"

namespace eyelevel::service {
namespace {

using yaml::KeyTable;
using yaml::Type;

const std::vector<std::string> days = {"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"};

KeyTable schedule_table() {
  return {
      "a schedule",
      "one job that comes by the clock",
      {{.name = "name",
        .required = true,
        .type = Type::text,
        .help = "by which the job is known",
        .example = "morning"},
       {.name = "at", .required = true, .type = Type::text, .help = "hour and minute", .example = "07:30"},
       {.name = "on",
        .type = Type::texts,
        .help = "days of the week; usual: every day",
        .example = "[ monday, friday ]"},
       {.name = "bench",
        .required = true,
        .type = Type::text,
        .help = "the name of a bench",
        .example = "lanternfield-1"},
       {.name = "sequence",
        .required = true,
        .type = Type::text,
        .help = "a file in the folder of sequences",
        .example = "ready/bench-proof.yaml"},
       {.name = "serial", .type = Type::text, .help = "of the unit", .example = "LF2-00417"},
       {.name = "model", .type = Type::text, .help = "a file in the folder of model sheets", .example = "lf-2.yaml"},
       {.name = "set",
        .type = Type::texts,
        .help = "what the sequence asks at its start, as NAME=VALUE",
        .example = "[ 'hours=8 h' ]"},
       {.name = "priority", .type = Type::count, .help = "higher ones come first", .example = "1"}}};
}

KeyTable schedules_table() {
  return {"a list of schedules",
          "jobs that come by the clock",
          {{.name = "schedules",
            .required = true,
            .type = Type::groups,
            .help = "each with name, at, bench and sequence",
            .example = "[ { name: morning, at: 07:30, bench: lanternfield-1, sequence: ready/bench-proof.yaml } ]",
            .inside = std::make_shared<const KeyTable>(schedule_table())}}};
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

void read_days(Schedule& schedule, const yaml::Node& list, yaml::Mistakes& mistakes) {
  schedule.on.fill(false);
  for (const auto& item : list.items) {
    const auto at = std::find(days.begin(), days.end(), item.text);
    if (at == days.end())
      mistakes.add(item.mark, fmt::format("'{}' is no day of the week", item.text), "monday, tuesday ... sunday");
    else
      schedule.on.at(static_cast<std::size_t>(at - days.begin())) = true;
  }
}

void read_set(Schedule& schedule, const yaml::Node& list, yaml::Mistakes& mistakes) {
  for (const auto& item : list.items) {
    const auto equals = item.text.find('=');
    if (equals == std::string::npos)
      mistakes.add(item.mark, fmt::format("'{}' gives nothing a value", item.text), "NAME=VALUE");
    else
      schedule.job.given.push_back({item.text.substr(0, equals), item.text.substr(equals + 1)});
  }
}

Schedule read_one(const yaml::Node& node, yaml::Mistakes& mistakes) {
  const yaml::Fields fields(node);
  Schedule schedule;
  schedule.name = fields.text("name").value_or("");
  schedule.job.bench = fields.text("bench").value_or("");
  schedule.job.sequence = fields.text("sequence").value_or("");
  schedule.job.serial = fields.text("serial").value_or("");
  schedule.job.model = fields.text("model").value_or("");
  schedule.job.priority = static_cast<std::int64_t>(fields.count("priority").value_or(0));
  schedule.job.asked_by = "schedule: " + schedule.name;
  const auto* at = node.find("at");
  if (const auto minute = minute_of_day(at->text))
    schedule.minute = *minute;
  else
    mistakes.add(at->mark, fmt::format("'at': expected hour and minute, found '{}'", at->text), "such as 07:30");
  if (const auto* on = node.find("on")) {
    read_days(schedule, *on, mistakes);
    // Without one it would never be due.
    if (on->items.empty()) mistakes.add(on->mark, "'on' names no day", "leave it out for every day");
  }
  if (const auto* set = node.find("set")) read_set(schedule, *set, mistakes);
  return schedule;
}

std::tm local(base::UtcTime time) {
  const std::time_t seconds = std::chrono::system_clock::to_time_t(time);
  std::tm parts{};
  ::localtime_r(&seconds, &parts);
  return parts;
}

// That time of the day, `days_on` days after the day of `time`.
base::UtcTime at_time_of_day(const Schedule& schedule, base::UtcTime time, int days_on) {
  std::tm parts = local(time);
  parts.tm_mday += days_on;
  parts.tm_hour = schedule.minute / 60;
  parts.tm_min = schedule.minute % 60;
  parts.tm_sec = 0;
  parts.tm_isdst = -1;
  return std::chrono::time_point_cast<base::UtcTime::duration>(
      std::chrono::system_clock::from_time_t(::mktime(&parts)));
}

bool is_on(const Schedule& schedule, base::UtcTime due) {
  return schedule.on.at(static_cast<std::size_t>(local(due).tm_wday));
}

}  // namespace

bool is_schedules(const yaml::Node& root) { return !root.entries.empty() && root.entries.front().key == "schedules"; }

SchedulesRead read_schedules(yaml::Document document, const std::function<std::string(const record::Job&)>& why_not) {
  SchedulesRead result{{}, std::move(document.mistakes)};
  if (!yaml::check(document.root, schedules_table(), result.mistakes)) return result;
  for (const auto& node : document.root.find("schedules")->items) {
    auto schedule = read_one(node, result.mistakes);
    const auto same = [&](const Schedule& other) { return other.name == schedule.name; };
    if (std::any_of(result.schedules.begin(), result.schedules.end(), same))
      result.mistakes.add(node.find("name")->mark,
                          fmt::format("the name '{}' stands here a second time", schedule.name),
                          "give each schedule a name of its own");
    if (const auto why = why_not(schedule.job); !why.empty())
      result.mistakes.add(node.find("sequence")->mark, why, "as a job added by hand would have to be");
    result.schedules.push_back(std::move(schedule));
  }
  return result;
}

base::UtcTime next_due(const Schedule& schedule, base::UtcTime after) {
  // By the clock on the wall: a day whose clock is set back over it has it once.
  const std::tm now = local(after);
  const bool is_past_today = now.tm_hour * 60 + now.tm_min >= schedule.minute;
  for (int days_on = is_past_today ? 1 : 0;; ++days_on) {
    const auto due = at_time_of_day(schedule, after, days_on);
    if (due > after && is_on(schedule, due)) return due;
  }
}

std::optional<int> minute_of_day(std::string_view text) {
  if (text.size() == 4) {
    const auto minutes = minute_of_day("0" + std::string(text));
    return minutes;
  }
  if (text.size() != 5 || text[2] != ':' || !is_digit(text[0]) || !is_digit(text[1]) || !is_digit(text[3]) ||
      !is_digit(text[4]))
    return std::nullopt;
  const int hour = (text[0] - '0') * 10 + text[1] - '0';
  const int minute = (text[3] - '0') * 10 + text[4] - '0';
  if (hour > 23 || minute > 59) return std::nullopt;
  return hour * 60 + minute;
}

std::string time_text(const Schedule& schedule) {
  return fmt::format("{:02d}:{:02d}", schedule.minute / 60, schedule.minute % 60);
}

std::vector<std::string> days_of(const Schedule& schedule) {
  std::vector<std::string> on;
  for (std::size_t i = 1; i <= days.size(); ++i)  // a week as it is spoken, Monday first
    if (schedule.on.at(i % days.size())) on.push_back(days[i % days.size()]);
  return on;
}

base::UtcTime last_due(const Schedule& schedule, base::UtcTime at) {
  for (int days_back = 0;; ++days_back) {
    const auto due = at_time_of_day(schedule, at, -days_back);
    if (due <= at && is_on(schedule, due)) return due;
  }
}

namespace {

// In steps, because the clock on the wall may be set meanwhile; a store that cannot be reached or is full is tried
// again as often.
constexpr base::Duration step = std::chrono::minutes(1);

// Whether it was added at or after `since`; only those are of use that the store still lists among its newest.
bool was_added(record::Jobs& jobs, const Schedule& schedule, base::UtcTime since) {
  const auto list = jobs.list({.bench = schedule.job.bench, .state = std::nullopt});
  return std::any_of(list.begin(), list.end(), [&](const record::Job& job) {
    return job.asked_by == schedule.job.asked_by && job.asked >= since;
  });
}

bool still_waits(record::Jobs& jobs, const Schedule& schedule) {
  const auto list = jobs.list({.bench = schedule.job.bench, .state = record::JobState::waiting});
  return std::any_of(list.begin(), list.end(),
                     [&](const record::Job& job) { return job.asked_by == schedule.job.asked_by; });
}

// False: it cannot be written now.
task<bool> added(House& house, const Schedule& schedule) {
  auto job = schedule.job;
  job.asked = house.timeline.utc();
  try {
    co_await house.store_thread.done(house.timeline, [&] {
      if (!still_waits(house.jobs, schedule)) house.jobs.add(job);
    });
  } catch (const base::Error&) {
    co_return false;
  }
  co_return true;
}

task<base::UtcTime> first_due(House& house, const Schedule& schedule) {
  const auto now = house.timeline.utc();
  const auto missed = last_due(schedule, now);
  bool is_added = now - missed > late_by;  // too long ago to matter
  for (bool is_known = is_added; !is_known;) {
    try {
      co_await house.store_thread.done(house.timeline, [&] { is_added = was_added(house.jobs, schedule, missed); });
      is_known = true;
    } catch (const base::Error&) {
      // out of reach for now
    }
    if (!is_known) co_await house.timeline.sleep(step);
  }
  co_return is_added ? next_due(schedule, now) : missed;
}

}  // namespace

task<> keep_schedules(House& house, std::vector<Schedule> schedules,
                      std::function<void(const std::string& bench)> wake) {
  if (schedules.empty()) co_return;
  std::vector<base::UtcTime> due;
  for (const auto& schedule : schedules) due.push_back(co_await first_due(house, schedule));
  for (;;) {
    const auto soonest = std::min_element(due.begin(), due.end());
    const auto wait = std::min<base::Duration>(*soonest - house.timeline.utc(), step);
    if (wait > base::Duration{}) {
      co_await house.timeline.sleep(wait);
      continue;
    }
    const auto& schedule = schedules.at(static_cast<std::size_t>(soonest - due.begin()));
    const bool is_added = co_await added(house, schedule);
    if (is_added) {
      *soonest = next_due(schedule, std::max(*soonest, house.timeline.utc()));
      wake(schedule.job.bench);
    } else {
      co_await house.timeline.sleep(step);
    }
  }
}

}  // namespace eyelevel::service
