// SPDX-License-Identifier: Apache-2.0
// Routes of retention: by which rules old records make room, and what came of it.
#include <boost/json.hpp>
#include <utility>

#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/service/api.hpp"
#include "core/service/fields.hpp"
#include "core/service/http/json_answer.hpp"
#include "core/service/retention.hpp"

namespace eyelevel::service {

namespace json = boost::json;
using http::Response;

namespace {

json::value days_json(const std::optional<std::chrono::days>& days) {
  return days ? json::value(days->count()) : json::value(nullptr);
}

json::value texts_json(const std::vector<std::string>& texts) {
  json::array list;
  for (const auto& text : texts) list.push_back(json::string(record::clean_utf8(text)));
  return list;
}

json::object retained_json(const Retained& done) {
  return {{"at_utc", record::utc_text(done.at)},
          {"dry_run", done.is_dry},
          {"runs_archived", done.runs_archived},
          {"archives", texts_json(done.archives)},
          {"runs_thinned", done.runs_thinned},
          {"captures", done.captures},
          {"samples", done.samples},
          {"failures", texts_json(done.failures)}};
}

json::object retention_json(const Retention& retention) {
  json::object told{{"rules", nullptr}, {"next_utc", nullptr}, {"last", nullptr}, {"why_not", retention.why_not()}};
  if (const auto& rules = retention.rules())
    told["rules"] = json::object{{"thin_out_after_days", days_json(rules->thin_out_after)},
                                 {"archive_after_days", days_json(rules->archive_after)}};
  if (const auto due = retention.next_due()) told["next_utc"] = record::utc_text(*due);
  if (retention.last()) told["last"] = retained_json(*retention.last());
  return told;
}

}  // namespace

task<Response> Api::show_retention(const Call&) { co_return http::json_answer(retention_json(retention_)); }

task<Response> Api::retain(const Call& call) {
  const Fields fields(call.body, {"dry_run", "by"});
  const bool is_dry = fields.yes_no("dry_run");
  auto by = by_of(call, fields);
  if (by.empty()) by = call.caller.name;
  const auto done = co_await retention_.done(std::move(by), is_dry ? Dry::yes : Dry::no);
  co_return http::json_answer(retained_json(done), 201);
}

}  // namespace eyelevel::service
