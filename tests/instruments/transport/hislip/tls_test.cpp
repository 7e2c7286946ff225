// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/tls.hpp"

#include <openssl/bio.h>
#include <openssl/pem.h>
#include <openssl/ssl.h>

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

namespace {

// A peer that does with OpenSSL what ours never does.
class WilfulServer {
 public:
  explicit WilfulServer(int most_version) : context_(SSL_CTX_new(TLS_method())) {
    REQUIRE(SSL_CTX_set_max_proto_version(context_, most_version) == 1);
    const auto& [certificate_pem, key_pem] = certificate();
    BIO* text = BIO_new_mem_buf(certificate_pem.data(), static_cast<int>(certificate_pem.size()));
    X509* read = PEM_read_bio_X509(text, nullptr, nullptr, nullptr);
    REQUIRE(SSL_CTX_use_certificate(context_, read) == 1);
    X509_free(read);
    BIO_free(text);
    text = BIO_new_mem_buf(key_pem.data(), static_cast<int>(key_pem.size()));
    EVP_PKEY* key = PEM_read_bio_PrivateKey(text, nullptr, nullptr, nullptr);
    REQUIRE(SSL_CTX_use_PrivateKey(context_, key) == 1);
    EVP_PKEY_free(key);
    BIO_free(text);
    ssl = SSL_new(context_);
    SSL_set_bio(ssl, BIO_new(BIO_s_mem()), BIO_new(BIO_s_mem()));
    SSL_set_accept_state(ssl);
  }
  WilfulServer(const WilfulServer&) = delete;
  WilfulServer& operator=(const WilfulServer&) = delete;
  ~WilfulServer() {
    SSL_free(ssl);
    SSL_CTX_free(context_);
  }

  void shake_hands_with(Tls& client) {
    for (int turns = 0; turns < 10 && !(client.shake_hands() && SSL_is_init_finished(ssl) != 0); ++turns) {
      take_from(client);
      SSL_do_handshake(ssl);
      give_to(client);
    }
    REQUIRE(SSL_is_init_finished(ssl) != 0);
  }
  void take_from(Tls& client) {
    const auto bytes = std::exchange(client.to_send(), {});
    BIO_write(SSL_get_rbio(ssl), bytes.data(), static_cast<int>(bytes.size()));
  }
  void give_to(Tls& client) {
    char* bytes = nullptr;
    const auto size = BIO_get_mem_data(SSL_get_wbio(ssl), &bytes);
    client.put({bytes, static_cast<std::size_t>(size)});
    BIO_reset(SSL_get_wbio(ssl));
  }

  SSL* ssl;

 private:
  SSL_CTX* context_;
};

}  // namespace

TEST_CASE("tls: a peer that wants new keys now and then gets them, one that wants them without end is a fault",
          "[transport]") {
  const auto client = Tls::client();
  WilfulServer server(TLS1_3_VERSION);
  server.shake_hands_with(*client);
  const auto want_keys = [&] {
    REQUIRE(SSL_key_update(server.ssl, SSL_KEY_UPDATE_REQUESTED) == 1);
    REQUIRE(SSL_do_handshake(server.ssl) == 1);
    server.give_to(*client);
  };
  want_keys();
  REQUIRE(SSL_write(server.ssl, "still here", 10) == 10);
  server.give_to(*client);
  CHECK(read_all(*client) == "still here");
  CHECK(client->fault().empty());
  client->write("so are we");
  server.take_from(*client);
  std::string heard(20, ' ');
  REQUIRE(SSL_read(server.ssl, heard.data(), static_cast<int>(heard.size())) == 9);
  CHECK(heard.substr(0, 9) == "so are we");
  std::size_t times = 1;
  for (; times < 10000 && client->fault().empty(); ++times) {
    want_keys();
    CHECK(read_all(*client).empty());
  }
  CHECK(client->fault() == "encryption failed: the peer wants new keys without end");
  CHECK(times > 1000);
  CHECK(client->to_send().size() < 70000);
}

TEST_CASE("tls: a second handshake on a connection, which TLS 1.2 knows, is refused", "[transport]") {
  const auto client = Tls::client();
  WilfulServer server(TLS1_2_VERSION);
  server.shake_hands_with(*client);
  std::exchange(client->to_send(), {});
  REQUIRE(SSL_renegotiate(server.ssl) == 1);
  SSL_do_handshake(server.ssl);
  server.give_to(*client);
  CHECK(read_all(*client).empty());
  // RFC 5246, 7.2.2: a warning (1) no_renegotiation (100) in a record of type alert (21), not a ClientHello (22).
  CHECK(client->to_send().substr(0, 1) == "\x15");
}
