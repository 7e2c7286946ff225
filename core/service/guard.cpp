// SPDX-License-Identifier: Apache-2.0
#include "core/service/guard.hpp"

#include <string_view>

namespace eyelevel::service {

namespace {

// "127.0.0.1:8080", "[::1]:8080", "localhost" without the port.
std::string_view name_of_host(std::string_view host) {
  if (host.starts_with('[')) return host.substr(0, host.find(']') + 1);
  return host.substr(0, host.find(':'));
}

bool is_this_machine(std::string_view host) {
  const auto name = name_of_host(host);
  // RFC 1122, 3.2.1.3: all of 127/8. Digits and dots only: "127.0.0.1.example" is a name.
  const bool is_v4 = name.find_first_not_of("0123456789.") == std::string_view::npos;
  return name == "localhost" || name == "[::1]" || (is_v4 && name.starts_with("127."));
}

bool changes(const http::Request& request) {
  return request.method != "GET" && request.method != "HEAD" && request.method != "OPTIONS";
}

bool is_upgrade(const http::Request& request) { return !request.header("upgrade").empty(); }

bool is_own_origin(std::string_view origin, std::string_view host) {
  const auto scheme = origin.find("://");
  return scheme != std::string_view::npos && origin.substr(scheme + 3) == host;
}

}  // namespace

std::optional<http::Problem> refused(const http::Request& request, bool is_loopback) {
  const auto host = request.header("host");
  if (host.empty()) return http::Problem(400, "the request names no host (RFC 9110, 7.2)");
  if (is_loopback && !is_this_machine(host))
    return http::Problem(403, "this daemon serves this machine only, and the request is for another name",
                         "use 127.0.0.1 or localhost");
  const auto origin = request.header("origin");
  if ((changes(request) || is_upgrade(request)) && !origin.empty() && !is_own_origin(origin, host))
    return http::Problem(403, "the request comes from a page of another site");
  const auto type = request.header("content-type");
  if (changes(request) && !request.body.empty() && type.substr(0, type.find(';')) != "application/json")
    return http::Problem(415, "the body is to be JSON", "Content-Type: application/json");
  return std::nullopt;
}

void add_page_guards(http::Response& response) {
  response.headers.emplace_back("Content-Security-Policy",
                                "default-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'");
  response.headers.emplace_back("X-Content-Type-Options", "nosniff");
  response.headers.emplace_back("Referrer-Policy", "no-referrer");
  response.headers.emplace_back("Cross-Origin-Opener-Policy", "same-origin");
  response.headers.emplace_back("Cross-Origin-Resource-Policy", "same-origin");
}

}  // namespace eyelevel::service
