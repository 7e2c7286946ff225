// SPDX-License-Identifier: Apache-2.0
// Routes of runs: what the record holds.
#include <fmt/format.h>

#include <boost/json.hpp>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/run_record.hpp"
#include "core/report/run_json.hpp"
#include "core/report/sheet.hpp"
#include "core/report/words.hpp"
#include "core/service/api.hpp"
#include "core/service/http/json_answer.hpp"
#include "core/service/http/problem.hpp"
#include "core/service/numbers.hpp"
#include "core/signal/npy.hpp"

namespace eyelevel::service {

namespace json = boost::json;
using http::json_answer;
using http::Problem;
using http::Response;

task<Response> Api::list_runs(const Call& call) {
  const auto& asked = call.request.query;
  record::RunQuery query;
  if (const auto at = asked.find("serial"); at != asked.end()) query.serial = at->second;
  if (const auto at = asked.find("sequence"); at != asked.end()) query.sequence = at->second;
  if (const auto at = asked.find("bench"); at != asked.end()) query.bench = at->second;
  query.at_most = at_most_of(call.request, 20);
  std::vector<record::RunSummary> runs;
  co_await on_store_thread([&] { runs = house_.store.runs(query); });
  json::array list;
  for (const auto& run : runs) list.push_back(report::summary_json(run));
  co_return json_answer(json::object{{"runs", std::move(list)}});
}

task<Response> Api::show_run(const Call& call) {
  json::object unit;
  co_await on_store_thread([&] {
    const auto run = record::read_run(house_.store, call.named.at("run"));
    unit = report::unit_json(run);
    unit["sequence"] = run.summary.sequence;
    unit["bench"] = run.summary.bench;
    unit["begun_utc"] = record::utc_text(run.summary.begun);
    unit["sentence"] = record::clean_utf8(report::end_text(run));
    json::array captures;
    for (const auto& capture : run.captures)
      captures.push_back(json::object{{"event", capture.event_number},
                                      {"name", capture.name},
                                      {"signal", capture.signal},
                                      {"index", capture.index},
                                      {"not_kept", capture.not_kept},
                                      {"thinned_out", run.thinned(capture.event_number) != nullptr}});
    unit["captures"] = std::move(captures);
  });
  co_return json_answer(unit);
}

task<Response> Api::list_events(const Call& call) {
  std::int64_t after = 0;
  if (const auto at = call.request.query.find("after"); at != call.request.query.end()) {
    const auto number = whole_number(at->second);
    if (!number) throw Problem(400, "`after` is no number of an event");
    after = *number;
  }
  std::string all;
  co_await on_store_thread([&] {
    for (const auto& event : house_.store.event_texts(call.named.at("run"), after))
      all += (all.empty() ? "" : ",") + event.text;
  });
  co_return Response{200, "application/json", fmt::format(R"({{"events":[{}]}})", all), {}};
}

task<Response> Api::give_capture(const Call& call) {
  const auto number = whole_number(call.named.at("event"));
  if (!number) throw Problem(404, "an event has a number");
  std::shared_ptr<const signal::Waveform> waveform;
  co_await on_store_thread([&] { waveform = house_.store.capture(call.named.at("run"), *number); });
  Response response{200, "application/octet-stream", {}, {}};
  const auto bytes = signal::write_npy(waveform->view());
  response.body.assign(reinterpret_cast<const char*>(bytes.data()), bytes.size());
  response.headers.emplace_back("Eyelevel-Scale-V", fmt::format("{}", waveform->scale_v));
  response.headers.emplace_back("Eyelevel-Offset-V", fmt::format("{}", waveform->offset_v));
  response.headers.emplace_back("Eyelevel-Rate-Hz", fmt::format("{}", waveform->rate_hz));
  co_return response;
}

task<Response> Api::draw_sheet(const Call& call) {
  const auto& name = call.named.at("sheet");
  if (!name.starts_with("sheet.")) throw Problem(404, "there is nothing here", "sheet.png, sheet.pdf or sheet.svg");
  report::Format format{};
  try {
    format = report::format_of(name);
  } catch (const base::Error&) {
    throw Problem(404, "the sheet is drawn as sheet.png, sheet.pdf or sheet.svg");
  }
  std::string bytes;
  co_await on_store_thread([&] {
    auto run = record::read_run(house_.store, call.named.at("run"));
    bytes = report::draw_sheet(report::gather_sheet(house_.store, std::move(run)), format);
  });
  const char* type = name.ends_with("png") ? "image/png" : name.ends_with("pdf") ? "application/pdf" : "image/svg+xml";
  co_return Response{200, type, std::move(bytes), {}};
}

}  // namespace eyelevel::service
