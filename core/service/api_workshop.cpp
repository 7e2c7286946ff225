// SPDX-License-Identifier: Apache-2.0
// Routes of the workshop: what all runs say together, as `eyelevel workshop` says it.
#include <boost/json.hpp>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/report/workshop/json.hpp"
#include "core/report/workshop/look.hpp"
#include "core/report/workshop/picture.hpp"
#include "core/service/api.hpp"
#include "core/service/http/json_answer.hpp"
#include "core/service/http/problem.hpp"

namespace eyelevel::service {

namespace {

namespace workshop = report::workshop;
using http::Problem;
using http::Response;

std::string asked(const http::Request& request, std::string_view name) {
  const auto at = request.query.find(std::string(name));
  return at == request.query.end() ? std::string() : at->second;
}

std::optional<base::UtcTime> day_of(const http::Request& request, std::string_view name) {
  const std::string day = asked(request, name);
  if (day.empty()) return std::nullopt;
  try {
    return record::utc_from_text(day + "T00:00:00.000Z");
  } catch (const base::Error&) {
    throw Problem(400, "`" + std::string(name) + "` is no day", "write it as in 2030-01-07");
  }
}

workshop::Wish wish_of(const http::Request& request) {
  auto until = day_of(request, "until");
  if (until) *until += std::chrono::days(1);
  return {.since = day_of(request, "since"),
          .until = until,
          .model = asked(request, "model"),
          .bench = asked(request, "bench"),
          .sequence = asked(request, "sequence"),
          .reading = asked(request, "reading"),
          .check_unit = asked(request, "check_unit")};
}

}  // namespace

task<Response> Api::show_workshop(const Call& call) {
  const auto wish = wish_of(call.request);
  workshop::Look seen;
  co_await on_store_thread([&] { seen = workshop::look(house_.store, wish, house_.timeline.utc()); });
  auto told = workshop::to_json(seen.seen);
  told["since_utc"] = record::utc_text(seen.since);
  co_return http::json_answer(told);
}

task<Response> Api::draw_workshop(const Call& call) {
  const auto wish = wish_of(call.request);
  std::string bytes;
  co_await on_store_thread([&] {
    const auto seen = workshop::look(house_.store, wish, house_.timeline.utc());
    bytes = workshop::chart_picture(report::Format::svg, seen.seen);
  });
  co_return Response{200, "image/svg+xml", std::move(bytes), {}};
}

}  // namespace eyelevel::service
