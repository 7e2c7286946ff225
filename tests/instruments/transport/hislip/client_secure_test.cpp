// SPDX-License-Identifier: Apache-2.0
// How the HiSLIP client begins encryption and logs in, message by message; what is from memory says client_secure.cpp.
#include "instruments/transport/hislip/client.hpp"
#include "tests/instruments/transport/hislip/certificate_of_a_server.hpp"
#include "tests/instruments/transport/hislip/played_client.hpp"

using namespace std::string_literals;
using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;

namespace {

ClientOptions secure(Login login = {}, std::string of = fingerprint()) {
  ClientOptions options;
  options.fingerprint = std::move(of);
  options.login = std::move(login);
  return options;
}

// Both connections, in the clear, with what the server says of its encryption.
task<RawClient> first_messages(PlayedServer::Accept accept, std::uint16_t version, std::uint8_t capable) {
  Channel sync = co_await accept();
  auto hello = co_await next_message(sync, MessageType::initialize);
  co_await send_message(sync, {MessageType::initialize_response, 0, initialize_response_parameter(version, 7)});
  if (version < version_2_0) {
    CHECK(co_await is_closed(sync));
    co_return RawClient{std::move(sync), Channel(co_await boost::asio::this_coro::executor), std::move(hello)};
  }
  Channel async = co_await accept();
  co_await next_message(async, MessageType::async_initialize);
  co_await send_message(async, {MessageType::async_initialize_response, capable});
  co_return RawClient{std::move(sync), std::move(async), std::move(hello)};
}

std::unique_ptr<Tls> our_side() { return Tls::server(certificate().certificate_pem, certificate().key_pem); }

task<> begin_encryption(RawClient& peer) {
  const auto asked = co_await next_message(peer.async);
  CHECK(asked.header == Header{MessageType::async_start_tls, 0, before_first_id, 4});
  CHECK(asked.payload == "\xFF\xFF\xFE\xFE");
  co_await send_message(peer.async, {MessageType::async_start_tls_response, 1});
  REQUIRE_FALSE(co_await peer.async.secure(our_side()));
  const auto also = co_await next_message(peer.sync);
  CHECK(also.header == Header{MessageType::start_tls});
  REQUIRE_FALSE(co_await peer.sync.secure(our_side()));
}

task<> answer_sizes(RawClient& peer) {
  co_await next_message(peer.async, MessageType::async_maximum_message_size);
  const auto size = encode_size(1000);
  co_await send_message(peer.async, {MessageType::async_maximum_message_size_response}, {size.data(), size.size()});
}

Client fails_securely(std::string words, ClientOptions options = secure()) {
  return [words, options](base::Timeline&, ResourceName name) -> task<> {
    const auto error = co_await error_of([&]() -> task<> { co_await hislip::connect(name, options); });
    CHECK(error.code == base::ErrorCode::no_connection);
    CHECK(error.where == name.canonical());
    CHECK_THAT(error.message, Catch::Contains(words));
    CHECK_FALSE(error.advice.empty());
  };
}

}  // namespace

TEST_CASE("hislip client: encryption begins on the asynchronous connection, then on the other, then comes the login",
          "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await first_messages(accept, version_2_0, secure_capable);
    co_await begin_encryption(peer);
    co_await next_message(peer.sync, MessageType::get_sasl_mechanism_list);
    co_await send_message(peer.sync, {MessageType::get_sasl_mechanism_list_response}, "ANONYMOUS PLAIN");
    CHECK((co_await next_message(peer.sync, MessageType::authentication_start)).payload == "PLAIN");
    CHECK((co_await next_message(peer.sync, MessageType::authentication_exchange)).payload == "\0bench\0s"s);
    co_await send_message(peer.sync, {MessageType::authentication_exchange});  // an empty challenge
    co_await send_message(peer.sync, {MessageType::authentication_result, authentication_success});
    co_await answer_sizes(peer);
    const auto query = co_await query_of(peer);
    CHECK(query.header.parameter == first_message_id);
    co_await send_message(peer.sync, answer_to(query), "A\n");
  };
  play(part, [](base::Timeline&, ResourceName name) -> task<> {
    const auto link = co_await hislip::connect(name, secure({"bench", "s"}));
    Buffer answer;
    co_await link->query("?", answer);
    CHECK(answer == "A");
  });
}

TEST_CASE("hislip client: who wants encryption is told what the instrument lacks, and sends nothing in the clear",
          "[transport]") {
  struct Row {
    std::uint16_t version;
    std::uint8_t capable;
    std::optional<std::uint8_t> answer;
    const char* words;
  };
  const Row row = GENERATE(Row{version_1_0, 0, {}, "speaks HiSLIP 1.0"},
                           Row{version_2_0, 0, {}, "its AsyncInitializeResponse says so"},
                           Row{version_2_0, 1, std::uint8_t{0}, "does not begin encryption (it is busy)"},
                           Row{version_2_0, 1, std::uint8_t{3}, "does not begin encryption (error)"});
  const auto part = [row](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await first_messages(accept, row.version, row.capable);
    if (row.version < version_2_0) co_return;
    if (row.answer) {
      co_await next_message(peer.async, MessageType::async_start_tls);
      co_await send_message(peer.async, {MessageType::async_start_tls_response, *row.answer});
    }
    CHECK(co_await is_closed(peer.async));
    CHECK(co_await is_closed(peer.sync));
  };
  play(part, fails_securely(row.words));
}

TEST_CASE("hislip client: another certificate is refused before anything is said, and both fingerprints are shown",
          "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await first_messages(accept, version_2_0, secure_capable);
    co_await next_message(peer.async, MessageType::async_start_tls);
    co_await send_message(peer.async, {MessageType::async_start_tls_response, 1});
    co_await peer.async.secure(our_side());
    CHECK(co_await is_closed(peer.async));
    CHECK(co_await is_closed(peer.sync));
  };
  std::string other = fingerprint();
  other[0] = other[0] == 'A' ? 'B' : 'A';
  play(part, [other](base::Timeline&, ResourceName name) -> task<> {
    const auto error = co_await error_of([&]() -> task<> { co_await hislip::connect(name, secure({}, other)); });
    CHECK(error.code == base::ErrorCode::no_connection);
    CHECK(error.received == "SHA-256 " + fingerprint());
    CHECK(error.expected == "SHA-256 " + other);
  });
}

TEST_CASE("hislip client: a server that answers the handshake by something else is told", "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await first_messages(accept, version_2_0, secure_capable);
    co_await next_message(peer.async, MessageType::async_start_tls);
    co_await send_message(peer.async, {MessageType::async_start_tls_response, 1});
    co_await send_message(peer.async, {MessageType::async_service_request, 0x40});
    Header nothing;
    co_await peer.async.next(nothing);
  };
  play(part, fails_securely("while beginning encryption, on the asynchronous connection: encryption failed: "));
}

TEST_CASE("hislip client: a login that is refused, or cannot be made, is told with the instrument's words",
          "[transport]") {
  struct Row {
    const char* list;
    Header answer;
    std::string payload;
    const char* words;
  };
  const Row row = GENERATE(Row{"SCRAM-SHA-256", {}, "", "no login: the instrument has no PLAIN, only SCRAM-SHA-256"},
                           Row{"PLAIN",
                               {MessageType::authentication_result, 0},
                               "who?\n",
                               "no login: the instrument refuses this user and password: who?\\n"},
                           Row{"PLAIN", {MessageType::error, 5}, "", "error 5 (authentication failed)"},
                           Row{"PLAIN", {MessageType::interrupted}, "", "no login: Interrupted came"});
  const auto part = [row](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await first_messages(accept, version_2_0, secure_capable);
    co_await begin_encryption(peer);
    co_await next_message(peer.sync, MessageType::get_sasl_mechanism_list);
    co_await send_message(peer.sync, {MessageType::get_sasl_mechanism_list_response}, row.list);
    if (row.answer.type != MessageType::initialize) {
      co_await next_message(peer.sync, MessageType::authentication_start);
      co_await next_message(peer.sync, MessageType::authentication_exchange);
      co_await send_message(peer.sync, row.answer, row.payload);
    }
    CHECK(co_await is_closed(peer.sync));
  };
  play(part, fails_securely(row.words, secure({"bench", "s"})));
}

namespace {

ClientOptions login_only() {
  auto options = secure();
  options.encrypt_login_only = true;
  return options;
}

// Up to AsyncEndTLS.
task<RawClient> logged_in(PlayedServer::Accept accept) {
  auto peer = co_await first_messages(accept, version_2_0, secure_capable);
  co_await begin_encryption(peer);
  co_await next_message(peer.sync, MessageType::get_sasl_mechanism_list);
  co_await send_message(peer.sync, {MessageType::get_sasl_mechanism_list_response}, "ANONYMOUS");
  co_await next_message(peer.sync, MessageType::authentication_start);
  co_await next_message(peer.sync, MessageType::authentication_exchange);
  co_await send_message(peer.sync, {MessageType::authentication_result, authentication_success});
  const auto asked = co_await next_message(peer.async);
  CHECK(asked.header == Header{MessageType::async_end_tls, 0, before_first_id, 4});
  CHECK(asked.payload == "\xFF\xFF\xFE\xFE");
  co_return peer;
}

}  // namespace

TEST_CASE("hislip client: after the login encryption ends where it began, and what follows goes in the clear",
          "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await logged_in(accept);
    co_await send_message(peer.async, {MessageType::async_service_request, 0x40});  // may always come between
    co_await send_message(peer.async, {MessageType::async_end_tls_response, 1});
    REQUIRE_FALSE(co_await peer.async.unsecure());
    const auto also = co_await next_message(peer.sync);
    CHECK(also.header == Header{MessageType::end_tls});
    CHECK(peer.sync.is_secure());
    REQUIRE_FALSE(co_await peer.sync.unsecure());
    co_await answer_sizes(peer);
    const auto query = co_await query_of(peer);
    co_await send_message(peer.sync, answer_to(query), "A\n");
  };
  play(part, [](base::Timeline&, ResourceName name) -> task<> {
    const auto link = co_await hislip::connect(name, login_only());
    Buffer answer;
    co_await link->query("?", answer);
    CHECK(answer == "A");
    co_await link->wait_for_service();  // the one that came between
  });
}

TEST_CASE("hislip client: an instrument that does not end encryption, or says something else, is told", "[transport]") {
  struct Row {
    Header answer;
    const char* words;
  };
  const Row row =
      GENERATE(Row{{MessageType::async_end_tls_response, 0}, "does not end encryption after the login (it is busy)"},
               Row{{MessageType::async_end_tls_response, 3}, "does not end encryption after the login (error)"},
               Row{{MessageType::async_lock_info_response}, "AsyncLockInfoResponse came while ending encryption"},
               Row{{MessageType::error, 1}, "while ending encryption: the instrument reports error 1"});
  const auto part = [row](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await logged_in(accept);
    co_await send_message(peer.async, row.answer);
    CHECK(co_await is_closed(peer.async));
    CHECK(co_await is_closed(peer.sync));
  };
  play(part, fails_securely(row.words, login_only()));
}

TEST_CASE("hislip client: an instrument that says to end encryption and speaks in the clear without an end is told",
          "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await logged_in(accept);
    co_await send_message(peer.async, {MessageType::async_end_tls_response, 1});
    const auto plain = encode({MessageType::async_service_request, 0x40});
    boost::system::error_code error;
    peer.async.socket().write_some(boost::asio::buffer(plain), error);
    CHECK(co_await is_closed(peer.async));
  };
  play(part,
       fails_securely("while ending encryption, on the asynchronous connection: encryption failed: ", login_only()));
}
