// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/tls.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/instruments/transport/hislip/certificate_of_a_server.hpp"

using namespace eyelevel;
using namespace eyelevel::test;
using transport::hislip::read_fingerprint;
using transport::hislip::Tls;

namespace {

// Both sides until neither has anything to say, in pieces of that many bytes.
void carry(Tls& one, Tls& other, std::size_t piece) {
  while (!one.to_send().empty() || !other.to_send().empty()) {
    for (auto [from, to] : {std::pair(&one, &other), std::pair(&other, &one)}) {
      const auto bytes = std::exchange(from->to_send(), {});
      for (std::size_t at = 0; at < bytes.size(); at += piece) {
        to->put(std::string_view(bytes).substr(at, piece));
        to->shake_hands();
      }
    }
  }
}

std::string read_all(Tls& tls) {
  std::string all(100000, ' ');
  std::size_t have = 0;
  while (const auto count = tls.read(all.data() + have, all.size() - have)) have += count;
  all.resize(have);
  return all;
}

}  // namespace

TEST_CASE("tls: both sides agree whatever the pieces, and what one writes the other reads", "[transport]") {
  const std::size_t piece = GENERATE(std::size_t{1}, std::size_t{7}, std::size_t{100000});
  const auto client = Tls::client();
  const auto server = Tls::server(certificate().certificate_pem, certificate().key_pem);
  CHECK_FALSE(client->shake_hands());
  // RFC 8446, 5.1: a record of type handshake (22) with the legacy version 0x0301.
  CHECK(client->to_send().substr(0, 3) == "\x16\x03\x01");
  carry(*client, *server, piece);
  REQUIRE(client->shake_hands());
  REQUIRE(server->shake_hands());
  CHECK(client->peer_fingerprint() == fingerprint());
  CHECK(server->peer_fingerprint().empty());
  const std::string text(50000, 'x');
  client->write(text);
  client->write("end");
  CHECK(client->to_send().find("xxxx") == std::string::npos);
  server->put(std::exchange(client->to_send(), {}));
  CHECK(read_all(*server) == text + "end");
  CHECK_FALSE(server->has_ended());
  client->end();
  server->put(std::exchange(client->to_send(), {}));
  CHECK(read_all(*server).empty());
  CHECK(server->has_ended());
  CHECK(server->fault().empty());
}

TEST_CASE("tls: what is no TLS, and a byte that was changed on the way, is a fault", "[transport]") {
  const auto client = Tls::client();
  client->shake_hands();
  client->put("HS this is no record of TLS");
  CHECK_FALSE(client->shake_hands());
  CHECK_THAT(client->fault(), Catch::StartsWith("encryption failed: "));

  const auto one = Tls::client();
  const auto other = Tls::server(certificate().certificate_pem, certificate().key_pem);
  one->shake_hands();
  carry(*one, *other, 100000);
  one->write("*RST\n");
  auto bytes = std::exchange(one->to_send(), {});
  bytes.back() = static_cast<char>(bytes.back() ^ 1);
  other->put(bytes);
  CHECK(read_all(*other).empty());
  CHECK_THAT(other->fault(), Catch::StartsWith("encryption failed: "));
}

TEST_CASE("tls: a certificate that is none, or another's key, is refused before anybody connects", "[transport]") {
  const auto other = base::make_certificate({"a"}, base::UtcTime{std::chrono::hours(24 * 365 * 60)}, 1);
  CHECK_THROWS_AS(Tls::server("nothing", certificate().key_pem), base::Error);
  CHECK_THROWS_AS(Tls::server(certificate().certificate_pem, "nothing"), base::Error);
  CHECK_THROWS_AS(Tls::server(certificate().certificate_pem, other.key_pem), base::Error);
}

TEST_CASE("tls: a fingerprint is read with colons and without, in either case, and nothing else is one",
          "[transport]") {
  std::string plain;
  for (const char c : fingerprint())
    if (c != ':') plain += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  CHECK(read_fingerprint(fingerprint()) == fingerprint());
  CHECK(read_fingerprint(plain) == fingerprint());
  CHECK(read_fingerprint(plain.substr(2)).empty());
  CHECK(read_fingerprint(plain + "00").empty());
  CHECK(read_fingerprint("g" + plain.substr(1)).empty());
  CHECK(read_fingerprint("").empty());
}
