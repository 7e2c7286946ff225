// SPDX-License-Identifier: Apache-2.0
#include "core/service/api.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/asio/error.hpp>
#include <boost/json.hpp>
#include <boost/system/system_error.hpp>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/service/feed_play.hpp"
#include "core/service/guard.hpp"
#include "core/service/http/problem.hpp"
#include "core/service/http/target.hpp"
#include "core/service/numbers.hpp"

namespace eyelevel::service {

namespace json = boost::json;
using http::Problem;
using http::Request;
using http::Response;

const std::vector<Route>& routes() {
  static const std::vector<Route> table = {
      {"GET", "/api/1", "What this daemon is, and its benches", "", "About", "", &Api::about},
      {"GET", "/api/1/openapi.json", "This description", "", "Description", "", &Api::describe},
      {"GET", "/api/1/benches", "Every bench", "", "Benches", "", &Api::list_benches},
      {"GET", "/api/1/benches/{bench}", "One bench: what it does now, and what it asks", "", "Bench", "",
       &Api::show_bench},
      {"POST", "/api/1/benches/{bench}/answer", "Answers the question that the bench asks", "Answer", "", "",
       &Api::take_answer},
      {"POST", "/api/1/benches/{bench}/pause", "Pauses the run before its next step", "", "", "", &Api::pause},
      {"POST", "/api/1/benches/{bench}/go-on", "Goes on with a paused run", "", "", "", &Api::go_on},
      {"POST", "/api/1/benches/{bench}/stop-after-step", "Stops the run after the step under way", "", "", "",
       &Api::stop_after_step},
      {"POST", "/api/1/benches/{bench}/stop", "Stops the run now; its closing still leaves every instrument safe", "",
       "", "", &Api::stop},
      {"GET", "/api/1/jobs", "Jobs: what needs somebody, what comes next, what is over", "", "Jobs",
       "bench,state,at_most", &Api::list_jobs},
      {"POST", "/api/1/jobs", "Asks for a sequence to be run on a bench", "NewJob", "Job", "", &Api::add_job},
      {"GET", "/api/1/jobs/{job}", "One job", "", "Job", "", &Api::show_job},
      {"PATCH", "/api/1/jobs/{job}", "Moves a waiting job", "MovedJob", "Job", "", &Api::move_job},
      {"DELETE", "/api/1/jobs/{job}", "Withdraws a waiting job", "", "", "", &Api::withdraw_job},
      {"POST", "/api/1/jobs/{job}/resume", "Goes on with an interrupted job at the last step that says `resume here`",
       "", "Job", "", &Api::resume_job},
      {"POST", "/api/1/jobs/{job}/close", "Closes the record of an interrupted job as it is", "", "", "",
       &Api::close_job},
      {"GET", "/api/1/sequences", "The sequences that can be run", "", "Sequences", "", &Api::list_sequences},
      {"GET", "/api/1/sequences/sentences", "A sequence in plain sentences, how long it takes, what will be asked", "",
       "Explanation", "file", &Api::show_sentences},
      {"GET", "/api/1/models", "The models that have a sheet", "", "Models", "", &Api::list_models},
      {"GET", "/api/1/runs", "Runs, newest first", "", "Runs", "serial,sequence,bench,at_most", &Api::list_runs},
      {"GET", "/api/1/runs/{run}", "One run: its readings and how it ended", "", "Run", "", &Api::show_run},
      {"GET", "/api/1/runs/{run}/events", "The events of a run, in order", "", "Events", "after", &Api::list_events},
      {"GET", "/api/1/runs/{run}/captures/{event}.npy",
       "The samples of one capture as .npy; volts are code * scale + offset, which two headers tell", "", "Bytes", "",
       &Api::give_capture},
      {"GET", "/api/1/runs/{run}/{sheet}", "The sheet of a run: sheet.png, sheet.pdf or sheet.svg", "", "Bytes", "",
       &Api::draw_sheet},
      {"GET", "/metrics", "Figures in the form of OpenMetrics 1.0", "", "Text", "", &Api::metrics}};
  return table;
}

namespace {

// The {parts} of the pattern, or empty when the path is not of it. A part may end in a literal: "{event}.npy".
std::optional<std::map<std::string, std::string, std::less<>>> matched(std::string_view pattern,
                                                                       std::string_view path) {
  const auto wanted = http::segments(pattern);
  const auto given = http::segments(path);
  if (wanted.size() != given.size()) return std::nullopt;
  std::map<std::string, std::string, std::less<>> named;
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    if (!wanted[i].starts_with('{')) {
      if (wanted[i] != given[i]) return std::nullopt;
      continue;
    }
    const auto end = wanted[i].find('}');
    const auto tail = wanted[i].substr(end + 1);
    if (given[i].size() <= tail.size() || !given[i].ends_with(tail)) return std::nullopt;
    named.emplace(wanted[i].substr(1, end - 1), given[i].substr(0, given[i].size() - tail.size()));
  }
  return named;
}

json::object body_of(const Request& request) {
  if (request.body.empty()) return {};
  json::value value;
  try {
    value = record::parse_json(request.body, "the body");
  } catch (const base::Error& error) {
    throw Problem(400, error.record().message, "send one JSON object");
  }
  if (!value.is_object()) throw Problem(400, "the body is no JSON object", "send one JSON object");
  return std::move(value.get_object());
}

}  // namespace

BenchOwner* Api::find_bench(std::string_view name) const {
  const auto at =
      std::find_if(benches_.begin(), benches_.end(), [&](const auto* b) { return b->bench().name == name; });
  return at == benches_.end() ? nullptr : *at;
}

void Api::wake(std::string_view bench) const {
  for (auto* owner : benches_)
    if (bench.empty() || owner->bench().name == bench) owner->wake();
}

BenchOwner& Api::bench(const Call& call) const {
  const auto& name = call.named.at("bench");
  if (auto* found = find_bench(name)) return *found;
  throw Problem(404, fmt::format("there is no bench \"{}\"", base::escaped(name)), "list the benches: /api/1/benches");
}

Response Api::page(const Request& request) const {
  if (request.method != "GET" && request.method != "HEAD")
    throw Problem(405, fmt::format("{} is not done here", base::escaped(request.method, 20)));
  const auto found = page_.find(request.path == "/" ? "index.html" : std::string_view(request.path).substr(1));
  if (found == page_.end()) throw Problem(404, "there is nothing here", "the API is described at /api/1/openapi.json");
  return {200, std::string(found->second.type), std::string(found->second.bytes), {}};
}

task<Response> Api::answer(const Request& request) {
  Response response;
  try {
    if (const auto problem = refused(request, is_loopback_)) throw *problem;
    const Route* route = nullptr;
    std::optional<std::map<std::string, std::string, std::less<>>> named;
    std::string allowed;
    for (const Route& one : routes()) {
      auto match = matched(one.path, request.path);
      if (!match) continue;
      const bool is_asked = one.method == request.method || (one.method == "GET" && request.method == "HEAD");
      if (!is_asked) allowed += (allowed.empty() ? "" : ", ") + std::string(one.method);
      if (!is_asked || route != nullptr) continue;
      route = &one;
      named = std::move(match);
    }
    if (route != nullptr) {
      const Call call{request, std::move(*named), body_of(request)};
      response = co_await (this->*route->handle)(call);
    } else if (!allowed.empty()) {
      response = answer_to(
          Problem(405, fmt::format("{} is not done here", base::escaped(request.method, 20)), "use " + allowed));
      response.headers.emplace_back("Allow", allowed);
    } else {
      response = page(request);
    }
  } catch (const Problem& problem) {
    response = http::answer_to(problem);
  } catch (const base::Error& error) {
    response = http::answer_to(error);
  } catch (const boost::system::system_error& error) {
    if (error.code() == boost::asio::error::operation_aborted) throw;  // the server is told to end
    response = http::answer_to(base::Error(base::ErrorCode::defect, error.what(), "please report it"));
  } catch (const std::exception& error) {
    response = http::answer_to(base::Error(base::ErrorCode::defect, error.what(), "please report it"));
  }
  add_page_guards(response);
  co_return response;
}

std::function<task<>(http::Outlet&)> Api::feed(const Request& request, Response& refused_with) {
  const auto refuse = [&](const Problem& problem) { refused_with = answer_to(problem); };
  if (const auto problem = refused(request, is_loopback_)) {
    refuse(*problem);
    return {};
  }
  const auto named = matched("/api/1/benches/{bench}/feed", request.path);
  auto* owner = named ? find_bench(named->at("bench")) : nullptr;
  if (owner == nullptr) {
    refuse(Problem(404, "there is no such feed", "a feed is at /api/1/benches/{bench}/feed"));
    return {};
  }
  Position position;
  if (const auto run = request.query.find("run"); run != request.query.end()) position.run = run->second;
  if (const auto after = request.query.find("after"); after != request.query.end() && !position.run.empty()) {
    const auto number = whole_number(after->second);
    if (!number) {
      refuse(Problem(400, "`after` is no number of an event"));
      return {};
    }
    position.number = *number;
  }
  return [this, owner, position](http::Outlet& outlet) { return play_feed(house_, *owner, position, outlet); };
}

}  // namespace eyelevel::service
