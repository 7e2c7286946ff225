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

struct Routed {
  const Route* route = nullptr;
  std::map<std::string, std::string, std::less<>> named;
  std::string allowed;  // methods of that path, where none of them is asked
};

Routed routed(const Request& request) {
  Routed found;
  for (const Route& one : routes()) {
    auto match = matched(one.path, request.path);
    if (!match) continue;
    const bool is_asked = one.method == request.method || (one.method == "GET" && request.method == "HEAD");
    if (!is_asked) found.allowed += (found.allowed.empty() ? "" : ", ") + std::string(one.method);
    if (!is_asked || found.route != nullptr) continue;
    found.route = &one;
    found.named = std::move(*match);
  }
  return found;
}

// For the audit.
std::string without_secrets(const json::object& body) {
  if (body.empty()) return {};
  json::object shown(body);
  for (const char* secret : {"password", "old"})
    if (shown.contains(secret)) shown[secret] = "...";
  constexpr std::size_t longest = 1000;
  auto text = record::text_of(shown);
  if (text.size() > longest) text = text.substr(0, longest) + "...";
  return text;
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

std::string by_of(const Call& call, const Fields& fields) {
  const auto named = fields.text_or("by", "");
  return call.caller.user.empty() ? named : call.caller.user;
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
    response = co_await answer_of_route(request);
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

task<Response> Api::answer_of_route(const Request& request) {
  auto found = routed(request);
  if (found.route == nullptr) {
    if (found.allowed.empty()) co_return page(request);
    auto response = http::answer_to(
        Problem(405, fmt::format("{} is not done here", base::escaped(request.method, 20)), "use " + found.allowed));
    response.headers.emplace_back("Allow", found.allowed);
    co_return response;
  }
  const Route& route = *found.route;
  Call call{request, std::move(found.named), {}, access_.caller_of(request)};
  if (route.needs) access_.require(call.caller, *route.needs);
  call.body = body_of(request);
  if (call.caller.is_session) co_await access_.keep_used(call.caller.mark);
  if (route.method == "GET") co_return co_await (this->*route.handle)(call);
  co_return co_await audited(route, call);
}

task<Response> Api::audited(const Route& route, const Call& call) {
  AuditEntry entry;
  entry.at = house_.timeline.utc();
  entry.who = call.caller.name;
  entry.from = call.request.peer;
  entry.what = call.request.method + " " + call.request.path;
  entry.with = without_secrets(call.body);
  std::int64_t number = 0;
  try {
    number = co_await access_.note(entry);
  } catch (const base::Error&) {
    // A full disk must not keep anybody from stopping a bench; what else that right does has a record of its own.
    if (route.needs != Right::operate) throw;
  }
  Response response;
  try {
    response = co_await (this->*route.handle)(call);
  } catch (const Problem& problem) {
    response = http::answer_to(problem);
  } catch (const base::Error& error) {
    response = http::answer_to(error);
  }
  if (number != 0) co_await access_.told(number, response.status);
  co_return response;
}

namespace {

// Cut as soon as whoever looks may not any more.
class WatchedOutlet final : public http::Outlet {
 public:
  WatchedOutlet(http::Outlet& outlet, const Access& access, const Caller& caller)
      : outlet_(outlet), access_(access), caller_(caller) {}
  task<> text(std::string message) override {
    require();
    co_await outlet_.text(std::move(message));
  }
  task<> binary(std::string message) override {
    require();
    co_await outlet_.binary(std::move(message));
  }

 private:
  void require() const {
    if (!access_.still_may(caller_, Right::look)) throw Problem(401, "signed out");
  }
  http::Outlet& outlet_;
  const Access& access_;
  const Caller& caller_;
};

task<> watched_feed(House& house, const Access& access, BenchOwner& owner, Caller caller, Position position,
                    http::Outlet& outlet) {
  WatchedOutlet watched(outlet, access, caller);
  co_await play_feed(house, owner, position, watched);
}

}  // namespace

std::function<task<>(http::Outlet&)> Api::feed(const Request& request, Response& refused_with) {
  const auto refuse = [&](const Problem& problem) { refused_with = answer_to(problem); };
  if (const auto problem = refused(request, is_loopback_)) {
    refuse(*problem);
    return {};
  }
  const Caller caller = access_.caller_of(request);
  try {
    access_.require(caller, Right::look);
  } catch (const Problem& problem) {
    refuse(problem);
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
  return [this, owner, position, caller](http::Outlet& outlet) {
    return watched_feed(house_, access_, *owner, caller, position, outlet);
  };
}

}  // namespace eyelevel::service
