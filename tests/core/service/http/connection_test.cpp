// SPDX-License-Identifier: Apache-2.0
#include "core/service/http/connection.hpp"

#include <catch2/catch.hpp>

#include "core/base/certificate.hpp"
#include "core/base/error.hpp"
#include "tests/core/service/http/served.hpp"

using namespace eyelevel;
using Catch::Matchers::Contains;
using service::http::Tls;
using test::get;
using test::Served;
using test::status_line;

namespace {

Tls made_for(const std::vector<std::string>& names) {
  const auto now = std::chrono::time_point_cast<std::chrono::milliseconds>(std::chrono::system_clock::now());
  const auto made = base::make_certificate(names, now, 10);
  return {made.certificate_pem, made.key_pem};
}

}  // namespace

TEST_CASE("http connection: over TLS, requests and feeds are the same", "[service]") {
  const auto tls = made_for({"bench.lan"});
  const auto back = Served({}, tls).sent_over_tls(get("/a"), tls.certificate_pem, "bench.lan");
  CHECK(status_line(back) == "HTTP/1.1 200 OK");
  CHECK(back.ends_with("hello "));
  const auto feed = Served({}, tls).sent_over_tls(
      "GET /feed HTTP/1.1\r\nHost: localhost\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
      "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n",
      tls.certificate_pem, "bench.lan");
  CHECK_THAT(feed, Contains("101 Switching Protocols") && Contains("message 2"));
}

TEST_CASE("http connection: a client that trusts another certificate, or wants another name, is not served",
          "[service]") {
  const auto tls = made_for({"bench.lan"});
  Served served({}, tls);
  CHECK_THROWS(served.sent_over_tls(get("/a"), made_for({"bench.lan"}).certificate_pem, "bench.lan"));
  Served other({}, tls);
  CHECK_THROWS(other.sent_over_tls(get("/a"), tls.certificate_pem, "elsewhere.lan"));
  CHECK(served.asked.empty());
  CHECK(other.asked.empty());
}

TEST_CASE("http connection: whoever writes http for https is told so", "[service]") {
  Served served({}, made_for({"bench.lan"}));
  const auto back = served.sent(get("/a"));
  CHECK(status_line(back) == "HTTP/1.1 400 Bad Request");
  CHECK_THAT(back, Contains("https://"));
  CHECK(served.asked.empty());
}

TEST_CASE("http connection: a handshake that never comes is cut", "[service]") {
  const service::http::Limits quick{.request_within = std::chrono::milliseconds(50)};
  CHECK(Served(quick, made_for({"bench.lan"})).sent("").empty());
  CHECK(Served(quick, made_for({"bench.lan"})).sent("\x16\x03\x01").empty());
}

TEST_CASE("http connection: who asks too often in a short time is told to wait", "[service]") {
  const service::http::Limits few{.requests_burst = 2, .requests_each_second = 0.001};
  const std::string open = "GET /x HTTP/1.1\r\nHost: localhost\r\n\r\n";
  Served served(few);
  const auto back = served.sent(open + open + get("/y"));
  CHECK_THAT(back, Contains("429 Too Many Requests") && Contains("Retry-After: 1"));
  CHECK(served.asked.size() == 2);
}
