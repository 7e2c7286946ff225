// SPDX-License-Identifier: Apache-2.0
// Any bytes as a request to the API, both where everybody signs in and where nobody does: it is answered, never by a
// 5xx, what is wrong is JSON that says so, and who has not signed in gets nothing. The bytes: a line with method and
// target, lines of headers, an empty line, the body. Bytes of the wire are the library's affair (Beast), which fuzzes
// them itself.
#include <boost/json.hpp>
#include <cstdint>
#include <cstdio>
#include <vector>

#include "core/service/http/target.hpp"
#include "tests/core/service/harness.hpp"

using namespace eyelevel;

namespace {

void require(bool holds, const service::http::Response& response) {
  if (holds) return;
  std::fprintf(stderr, "%d %s\n", response.status, response.body.c_str());
  __builtin_trap();
}

std::string_view line_of(std::string_view& rest) {
  const auto end = rest.find('\n');
  const auto line = rest.substr(0, end);
  rest = end == std::string_view::npos ? std::string_view() : rest.substr(end + 1);
  return line;
}

// Empty where the server would not hand it on.
std::optional<service::http::Request> request_of(std::string_view text) {
  service::http::Request request;
  const auto first = line_of(text);
  const auto space = first.find(' ');
  if (space == std::string_view::npos) return std::nullopt;
  auto target = service::http::read_target(first.substr(space + 1));
  if (!target) return std::nullopt;
  request.method = first.substr(0, space);
  request.path = std::move(target->path);
  request.query = std::move(target->query);
  request.headers = {{"host", "127.0.0.1"}, {"content-type", "application/json"}};
  while (!text.empty()) {
    const auto line = line_of(text);
    if (line.empty()) break;
    const auto colon = line.find(':');
    if (colon == std::string_view::npos) return std::nullopt;
    request.headers.insert_or_assign(std::string(line.substr(0, colon)), std::string(line.substr(colon + 1)));
  }
  request.body = text;
  return request;
}

void meet(test::Daemon& daemon, const service::http::Request& request, bool is_open) {
  daemon.access.set_policy({.is_open = is_open, .is_secure = false, .port = 0});
  service::http::Response response;
  daemon.run_alone([&](test::Daemon& d) -> task<> { response = co_await d.api->answer(request); });
  daemon.bench.sim.loop.restart();
  require(response.status >= 200 && response.status < 500, response);
  if (response.status >= 400) {
    const auto problem = boost::json::parse(response.body);
    require(problem.at("status").as_int64() == response.status && !problem.at("detail").as_string().empty(), response);
  }
  // Of the API nobody learns more than that nobody is signed in.
  const bool is_api = request.path.starts_with("/api/1/") && request.path != "/api/1/session";
  if (!is_open && is_api) require(response.status >= 400, response);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static test::Daemon daemon;
  const std::vector<char> exact(data, data + size);
  const auto request = request_of(std::string_view(exact.data(), exact.size()));
  if (!request) return 0;
  meet(daemon, *request, true);
  meet(daemon, *request, false);
  return 0;
}
