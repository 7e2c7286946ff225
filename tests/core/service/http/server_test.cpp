// SPDX-License-Identifier: Apache-2.0
// Over real sockets on loopback, byte by byte as a client sends them. Another one's clients:
// tests/core/program/daemon.py.
#include "core/service/http/server.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/core/service/http/served.hpp"

using namespace eyelevel;
using service::http::Limits;
using test::get;
using test::Served;
using test::status_line;

TEST_CASE("http server: a request reaches the handler decoded, and its answer comes back", "[service]") {
  Served served;
  const auto back = served.sent(get("/a%20b?c=d"));
  CHECK(status_line(back) == "HTTP/1.1 200 OK");
  CHECK(back.ends_with("\r\n\r\nhello "));
  REQUIRE(served.asked.size() == 1);
  CHECK(served.asked[0].path == "/a b");
  CHECK(served.asked[0].query.at("c") == "d");
  CHECK(served.asked[0].header("host") == "localhost");
  CHECK(served.asked[0].peer == "127.0.0.1");
}

TEST_CASE("http server: several requests on one connection are answered in order, also when they came at once",
          "[service]") {
  Served served;
  const std::string post = "POST /x HTTP/1.1\r\nHost: localhost\r\nContent-Length: 3\r\n\r\n";
  const auto back = served.sent(post + "one" + post + "two" + get("/y"));
  CHECK(back.find("hello one") < back.find("hello two"));
  CHECK(served.asked.size() == 3);
}

TEST_CASE("http server: HEAD has the length of GET and no body", "[service]") {
  Served served;
  const auto back = served.sent("HEAD / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n");
  CHECK(back.find("Content-Length: 6\r\n") != std::string::npos);
  CHECK(back.ends_with("\r\n\r\n"));
}

// RFC 9112, 6.1 and 6.3: what two readers could take for two different requests is none.
TEST_CASE("http server: a request that could be read in two ways is refused and the connection closed", "[service]") {
  const std::string start = "POST / HTTP/1.1\r\nHost: localhost\r\n";
  for (const std::string& bytes :
       {start + "Content-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n" + get("/smuggled"),
        start + "Content-Length: 4\r\nContent-Length: 5\r\n\r\nabcd" + get("/smuggled"),
        start + "Content-Length: +4\r\n\r\nabcd" + get("/smuggled"),
        start + "Content-Length: -1\r\n\r\n" + get("/smuggled"),
        start + "Transfer-Encoding : chunked\r\n\r\n0\r\n\r\n" + get("/smuggled"),
        start + "Transfer-Encoding: chunked\r\n\r\nfffffffffffffffffff\r\n" + get("/smuggled")}) {
    CAPTURE(bytes);
    Served served;
    const auto back = served.sent(bytes);
    CHECK(status_line(back) == "HTTP/1.1 400 Bad Request");
    for (const auto& request : served.asked) CHECK(request.path != "/smuggled");
  }
}

TEST_CASE("http server: what is no request, too long a header and too long a body each have their answer",
          "[service]") {
  const Limits small{.header_bytes = 512, .body_bytes = 100};
  CHECK(status_line(Served(small).sent("nonsense\r\n\r\n")) == "HTTP/1.1 400 Bad Request");
  CHECK(status_line(Served(small).sent(get("/../etc/passwd"))) == "HTTP/1.1 400 Bad Request");
  CHECK(status_line(Served(small).sent(get("/", "Long: " + std::string(2000, 'x') + "\r\n"))) ==
        "HTTP/1.1 431 Request Header Fields Too Large");
  CHECK(status_line(Served(small).sent("POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 101\r\n\r\n" +
                                       std::string(101, 'x'))) == "HTTP/1.1 413 Payload Too Large");
}

TEST_CASE("http server: a client that never ends its request is cut", "[service]") {
  const Limits quick{.request_within = std::chrono::milliseconds(50), .idle = std::chrono::milliseconds(100)};
  CHECK(status_line(Served(quick).sent("GET / HTTP/1.1\r\nHost: local")) == "HTTP/1.1 400 Bad Request");
  CHECK(Served(quick).sent("").empty());
}

// RFC 6455, 1.3: the key and the answer to it are the example of that document.
TEST_CASE("http server: a WebSocket is accepted where there is a feed, and carries its messages", "[service]") {
  const std::string upgrade =
      "Upgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"
      "Sec-WebSocket-Version: 13\r\n\r\n";
  Served served;
  const auto back = served.sent("GET /feed HTTP/1.1\r\nHost: localhost\r\n" + upgrade);
  CHECK(status_line(back) == "HTTP/1.1 101 Switching Protocols");
  CHECK(back.find("s3pPLMBiTxaQ9kYGzzhZRbK+xOo=") != std::string::npos);
  for (int i = 0; i < 3; ++i) CHECK(back.find("\x81\x09message " + std::to_string(i)) != std::string::npos);
  CHECK(status_line(Served().sent("GET /none HTTP/1.1\r\nHost: localhost\r\n" + upgrade)) == "HTTP/1.1 404 Not Found");
}

TEST_CASE("http server: an address that cannot be had is refused with its reason", "[service]") {
  test::Wall wall;
  const auto refused = [&](const std::string& listen) {
    try {
      const service::http::Server server(wall.loop.get_executor(), *wall.timeline, listen, {});
    } catch (const base::Error& error) {
      return error.record().code == base::ErrorCode::bad_input;
    }
    return false;
  };
  for (const char* listen :
       {"", "8470", "127.0.0.1", "127.0.0.1:", "127.0.0.1:65536", "127.0.0.1:x", "nowhere:80", "192.0.2.1:80"}) {
    CAPTURE(listen);
    CHECK(refused(listen));
  }
}
