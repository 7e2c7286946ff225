// SPDX-License-Identifier: Apache-2.0
#include "core/service/retention.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <system_error>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/archive/put_away.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/report/thin_out.hpp"
#include "core/service/http/problem.hpp"
#include "core/service/schedule.hpp"
#include "core/yaml/fields.hpp"

namespace eyelevel::service {

namespace fs = std::filesystem;
using base::Error;
using base::ErrorCode;
using std::chrono::days;

namespace {

using yaml::KeyTable;
using yaml::Type;

KeyTable rules_table() {
  return {"a retention",
          "which records make room, and when",
          {{.name = "at", .type = Type::text, .help = "hour and minute; usual: 03:30", .example = "03:30"},
           {.name = "thin out after days",
            .type = Type::count,
            .help = "of each series of captures three stay, of runs that are that old",
            .example = "90"},
           {.name = "archive after days",
            .type = Type::count,
            .help = "runs that are that old go, whole, into archives",
            .example = "730"},
           {.name = "archive folder",
            .type = Type::text,
            .help = "of the archives, made where there is none",
            .example = "/var/lib/eyelevel/archive"}}};
}

KeyTable retention_table() {
  return {"a retention",
          "which records make room, and when",
          {{.name = "retention",
            .required = true,
            .type = Type::group,
            .help = "what is left out never happens",
            .example = "{ thin out after days: 90 }",
            .inside = std::make_shared<const KeyTable>(rules_table())}}};
}

std::optional<days> days_at(const yaml::Node& node, std::string_view key, yaml::Mistakes& mistakes) {
  const auto count = yaml::Fields(node).count(key);
  if (!count) return std::nullopt;
  constexpr long long most = 36500;
  if (*count < 1 || *count > most)
    mistakes.add(node.find(key)->mark, fmt::format("'{}' is {}", key, *count), fmt::format("from 1 to {}", most));
  return days(std::clamp(*count, 1LL, most));
}

}  // namespace

bool is_retention(const yaml::Node& root) { return !root.entries.empty() && root.entries.front().key == "retention"; }

RetentionRead read_retention(yaml::Document document) {
  RetentionRead result{{}, std::move(document.mistakes)};
  if (!yaml::check(document.root, retention_table(), result.mistakes)) return result;
  const yaml::Node& node = *document.root.find("retention");
  RetentionRules& rules = result.rules;
  const auto at = yaml::Fields(node).text("at").value_or("03:30");
  if (const auto minute = minute_of_day(at))
    rules.minute = *minute;
  else
    result.mistakes.add(node.find("at")->mark, fmt::format("'at': expected hour and minute, found '{}'", at),
                        "such as 03:30");
  rules.thin_out_after = days_at(node, "thin out after days", result.mistakes);
  rules.archive_after = days_at(node, "archive after days", result.mistakes);
  rules.archive_folder = yaml::Fields(node).text("archive folder").value_or("");
  if (rules.archive_after.has_value() == rules.archive_folder.empty())
    result.mistakes.add(node.mark, "'archive after days' and 'archive folder' belong together", "write both or none");
  if (!rules.thin_out_after && !rules.archive_after)
    result.mistakes.add(node.mark, "nothing would ever happen", "write 'thin out after days', or leave the file out");
  return result;
}

namespace {

// As many as one file holds: the daemon can end between two.
constexpr std::size_t runs_of_an_archive = 200;

fs::path free_name(const fs::path& folder, const std::string& day) {
  fs::path file = folder / fmt::format("runs-before-{}.eyelevel", day);
  for (int i = 2; fs::exists(file); ++i) file = folder / fmt::format("runs-before-{}-{}.eyelevel", day, i);
  return file;
}

// A store that fails has said it once and for all; what is wrong with one run leaves the others.
void note_failure(Retained& done, const Error& error) {
  if (error.record().code == ErrorCode::not_recording || error.record().code == ErrorCode::no_connection) throw error;
  done.failures.push_back(base::describe(error.record()));
}

struct Work {
  record::Store& store;
  const RetentionRules& rules;
  const record::Said said;
  const std::stop_token& stop;
  Retained done;

  void put_away(std::span<const record::RunSummary> runs, const std::string& day) {
    try {
      fs::create_directories(rules.archive_folder);
      const auto file = free_name(rules.archive_folder, day);
      done.runs_archived += record::put_away(file, store, runs, said_because(*rules.archive_after)).runs;
      done.archives.push_back(file.string());
    } catch (const fs::filesystem_error& error) {
      done.failures.push_back(
          fmt::format("archive folder {}: {}", rules.archive_folder.string(), error.code().message()));
    } catch (const Error& error) {
      note_failure(done, error);
    }
  }

  void archive(const std::vector<record::RunSummary>& runs, base::UtcTime before) {
    const std::string day = record::utc_text(before).substr(0, 10);
    // From the oldest on.
    for (std::size_t left = runs.size(); left > 0 && !stop.stop_requested();) {
      const std::size_t some = std::min(left, runs_of_an_archive);
      left -= some;
      put_away(std::span(runs).subspan(left, some), day);
    }
  }

  void thin_out(const record::RunSummary& run) {
    try {
      const auto plan = report::plan_thinning(store, run.id);
      if (!done.is_dry && !report::thin_out(store, plan, said_because(*rules.thin_out_after))) return;
      if (plan.said.gone.empty()) return;
      ++done.runs_thinned;
      done.captures += plan.said.gone.size();
      done.samples += plan.samples;
    } catch (const Error& error) {
      note_failure(done, error);
    }
  }

  record::Said said_because(days age) const {
    record::Said because = said;
    because.because = fmt::format("older than {} days", age.count());
    return because;
  }
};

}  // namespace

Retained retain(record::Store& store, const RetentionRules& rules, base::UtcTime now, const std::string& by, Dry dry,
                const std::stop_token& stop) {
  Work work{store, rules, {now, by, {}}, stop, {}};
  work.done.at = now;
  work.done.is_dry = dry == Dry::yes;
  std::set<std::string> leaving;
  if (rules.archive_after) {
    const auto before = now - *rules.archive_after;
    const auto runs = record::runs_to_put_away(store, before);
    if (work.done.is_dry)
      work.done.runs_archived = runs.size();
    else
      work.archive(runs, before);
    for (const auto& run : runs) leaving.insert(run.id);
  }
  if (rules.thin_out_after)
    for (const auto& run : report::runs_to_thin_out(store, now - *rules.thin_out_after))
      if (!leaving.contains(run.id) && !stop.stop_requested()) work.thin_out(run);
  return std::move(work.done);
}

namespace {

constexpr std::chrono::minutes after_the_beginning{10};
constexpr base::Duration step = std::chrono::minutes(1);  // the clock on the wall may be set meanwhile

}  // namespace

Retention::Retention(base::Timeline& timeline, std::optional<RetentionRules> rules,
                     std::function<std::unique_ptr<record::Store>()> open)
    : timeline_(timeline), rules_(std::move(rules)), open_(std::move(open)) {}

Retention::~Retention() {
  stop();
  thread_.settle();
}

std::optional<base::UtcTime> Retention::next_due() const {
  if (!rules_) return std::nullopt;
  return due_;
}

task<Retained> Retention::done(std::string by, Dry dry) {
  if (!rules_) throw http::Problem(409, "this daemon has no rules of retention", "start it with --retention FILE");
  if (is_busy_) throw http::Problem(409, "it is under way", "ask again when it is over");
  is_busy_ = true;
  Retained done;
  std::exception_ptr failure;
  try {
    co_await thread_.done(timeline_,
                          [&] { done = retain(*open_(), *rules_, timeline_.utc(), by, dry, stop_.get_token()); });
    if (dry == Dry::no) last_ = done;
  } catch (...) {
    failure = std::current_exception();
  }
  is_busy_ = false;
  if (failure) std::rethrow_exception(failure);
  co_return done;
}

task<> Retention::keep() {
  if (!rules_) co_return;
  Schedule daily;
  daily.minute = rules_->minute;
  due_ = std::min(timeline_.utc() + after_the_beginning, service::next_due(daily, timeline_.utc()));
  for (;;) {
    const auto wait = std::min<base::Duration>(*due_ - timeline_.utc(), step);
    if (wait > base::Duration{}) {
      co_await timeline_.sleep(wait);
      continue;
    }
    try {
      co_await done("eyeleveld", Dry::no);
      why_not_.clear();
    } catch (const Error& error) {
      why_not_ = base::describe(error.record());  // tomorrow anew
    } catch (const http::Problem&) {
      // somebody has asked for it a moment ago
    }
    due_ = service::next_due(daily, timeline_.utc());
  }
}

}  // namespace eyelevel::service
