// SPDX-License-Identifier: Apache-2.0
// Encryption and login, the server's side, message by message, and with our client.
#include "core/base/error.hpp"
#include "instruments/transport/hislip/client.hpp"
#include "instruments/transport/hislip/server.hpp"
#include "tests/instruments/transport/hislip/certificate_of_a_server.hpp"
#include "tests/instruments/transport/hislip/played_client.hpp"
#include "tests/support/scripted_device.hpp"

using namespace std::string_literals;
using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;

namespace {

using Body = std::function<task<>(HislipServer&)>;

void with_server(Security wanted, const Body& body) {
  Wall wall;
  auto main = [](base::Timeline& timeline, Security secured, const Body& inner) -> task<> {
    Listen listen;
    listen.security = std::move(secured);
    HislipServer server(co_await boost::asio::this_coro::executor, timeline,
                        {{"hislip0", std::make_shared<ScriptedDevice>(timeline,
                                                                      [](std::string_view message, Reply& reply) {
                                                                        reply.bytes = "echo of " + std::string(message);
                                                                        return base::Duration(0);
                                                                      })}},
                        listen);
    co_await inner(server);
    while (server.clients() > 0) co_await timeline.sleep(std::chrono::milliseconds(1));
  };
  wall.run(main(*wall.timeline, std::move(wanted), body));
}

task<> encrypt(RawClient& client) {
  co_await send_message(client.async, {MessageType::async_start_tls, 0, before_first_id}, "\xFF\xFF\xFE\xFE");
  CHECK(int{(co_await next_message(client.async, MessageType::async_start_tls_response)).header.control} == 1);
  REQUIRE_FALSE(co_await client.async.secure(Tls::client()));
  co_await send_message(client.sync, {MessageType::start_tls});
  REQUIRE_FALSE(co_await client.sync.secure(Tls::client()));
}

task<Message> log_in(RawClient& client, std::string mechanism, std::string words) {
  co_await send_message(client.sync, {MessageType::authentication_start}, std::move(mechanism));
  co_await send_message(client.sync, {MessageType::authentication_exchange}, std::move(words));
  co_return co_await next_message(client.sync, MessageType::authentication_result);
}

task<int> ask_to_end(RawClient& client, std::uint32_t last_sent) {
  co_await send_message(client.async, {MessageType::async_end_tls, 0, last_sent}, "\xFF\xFF\xFE\xFE");
  co_return (co_await next_message(client.async, MessageType::async_end_tls_response)).header.control;
}

task<> query(RawClient& client) {
  co_await send_message(client.sync, {MessageType::data_end, 0, first_message_id}, "a?\n");
}

}  // namespace

TEST_CASE("hislip server: where encryption is mandatory it says so, and refuses 1.0 and what comes in the clear",
          "[transport]") {
  with_server(security(true), [](HislipServer& server) -> task<> {
    auto client = co_await raw_client(server.port());
    // IVI-6.1 rev 2.0, Table 4: bit 1 encryption mandatory, bit 2 initial encryption.
    CHECK(int{client.initialize_response.header.control} == 6);
    co_await query(client);
    CHECK(int{(co_await next_message(client.sync, MessageType::fatal_error)).header.control} == 5);
    CHECK(int{(co_await next_message(client.async, MessageType::fatal_error)).header.control} == 5);
    CHECK(co_await is_closed(client.sync));

    auto old = co_await connected(server.port());
    co_await send_message(old, {MessageType::initialize, 0, initialize_parameter(version_1_0, "QQ")}, "hislip0");
    CHECK(int{(co_await next_message(old, MessageType::fatal_error)).header.control} == 5);

    auto beside = co_await raw_client(server.port());
    co_await send_message(beside.async, {MessageType::async_status_query, 0, before_first_id});
    CHECK(int{(co_await next_message(beside.async, MessageType::fatal_error)).header.control} == 5);
  });
}

TEST_CASE("hislip server: an encrypted client must log in before it is served", "[transport]") {
  with_server(security(false, {"bench", "s"}), [](HislipServer& server) -> task<> {
    auto client = co_await raw_client(server.port());
    co_await encrypt(client);
    co_await query(client);
    CHECK(int{(co_await next_message(client.sync, MessageType::error)).header.control} == 5);
    co_await send_message(client.sync, {MessageType::get_sasl_mechanism_list});
    CHECK((co_await next_message(client.sync)).payload == "PLAIN");
    CHECK(int{(co_await log_in(client, "ANONYMOUS", "")).header.control} == 0);
    CHECK(int{(co_await log_in(client, "PLAIN", "\0bench\0t"s)).header.control} == 0);
    co_await query(client);
    CHECK(int{(co_await next_message(client.sync, MessageType::error)).header.control} == 5);
    CHECK(int{(co_await log_in(client, "PLAIN", "\0bench\0s"s)).header.control} == 1);
    co_await query(client);
    CHECK((co_await next_message(client.sync, MessageType::data_end)).payload == "echo of a?\n");
  });
}

TEST_CASE("hislip server: where encryption is not mandatory, clients with and without it are served", "[transport]") {
  with_server(security(false), [](HislipServer& server) -> task<> {
    for (const bool encrypted : {false, true}) {
      ClientOptions options;
      if (encrypted) options.fingerprint = fingerprint();
      const auto link = co_await hislip::connect(parse_resource_name(server.resource_name()), options);
      Buffer answer;
      co_await link->query("a?", answer);
      CHECK(answer == "echo of a?");
      co_await link->clear();
      co_await link->query("b?", answer);
      CHECK(answer == "echo of b?");
    }
  });
}

TEST_CASE("hislip server: our client is told by a server that demands encryption, and by one that knows another user",
          "[transport]") {
  with_server(security(true, {"bench", "s"}), [](HislipServer& server) -> task<> {
    const auto name = parse_resource_name(server.resource_name());
    const auto in_the_clear = co_await error_of([&]() -> task<> { co_await hislip::connect(name); });
    CHECK_THAT(in_the_clear.message, Catch::Contains("accepts encrypted connections only"));
    ClientOptions options;
    options.fingerprint = fingerprint();
    options.login = {"bench", "wrong"};
    const auto unknown = co_await error_of([&]() -> task<> { co_await hislip::connect(name, options); });
    CHECK_THAT(unknown.message, Catch::Contains("refuses this user and password"));
    options.login.password = "s";
    const auto link = co_await hislip::connect(name, options);
    Buffer answer;
    co_await link->query("a?", answer);
    CHECK(answer == "echo of a?");
  });
}

TEST_CASE("hislip server: encryption ends when the client wants it, and may begin again with a new login",
          "[transport]") {
  with_server(security(false, {"bench", "s"}), [](HislipServer& server) -> task<> {
    auto client = co_await raw_client(server.port());
    co_await encrypt(client);
    CHECK(int{(co_await log_in(client, "PLAIN", "\0bench\0s"s)).header.control} == 1);
    co_await query(client);
    co_await next_message(client.sync, MessageType::data_end);
    CHECK(co_await ask_to_end(client, first_message_id) == 1);
    REQUIRE_FALSE(co_await client.async.unsecure());
    co_await send_message(client.async, {MessageType::async_lock_info});
    co_await next_message(client.async, MessageType::async_lock_info_response);
    co_await send_message(client.sync, {MessageType::end_tls});
    REQUIRE_FALSE(co_await client.sync.unsecure());
    co_await query(client);
    CHECK((co_await next_message(client.sync, MessageType::data_end)).payload == "echo of a?\n");
    co_await encrypt(client);
    co_await query(client);
    CHECK(int{(co_await next_message(client.sync, MessageType::error)).header.control} == 5);
  });
}

TEST_CASE("hislip server: encryption does not end where there is none, where it must be, or before all is executed",
          "[transport]") {
  with_server(security(false), [](HislipServer& server) -> task<> {
    auto client = co_await raw_client(server.port());
    CHECK(co_await ask_to_end(client, before_first_id) == 3);
    co_await encrypt(client);
    CHECK(co_await ask_to_end(client, first_message_id) == 0);  // a message that has not come yet
    CHECK(client.async.is_secure());
  });
  with_server(security(true), [](HislipServer& server) -> task<> {
    auto client = co_await raw_client(server.port());
    co_await encrypt(client);
    CHECK(co_await ask_to_end(client, before_first_id) == 3);
    co_await send_message(client.async, {MessageType::async_lock_info});  // still encrypted
    co_await next_message(client.async, MessageType::async_lock_info_response);
  });
}

TEST_CASE("hislip server: EndTLS before AsyncEndTLS, or without encryption, ends the session", "[transport]") {
  const bool encrypted = GENERATE(true, false);
  with_server(security(false), [encrypted](HislipServer& server) -> task<> {
    auto client = co_await raw_client(server.port());
    if (encrypted) co_await encrypt(client);
    co_await send_message(client.sync, {MessageType::end_tls});
    CHECK(int{(co_await next_message(client.sync, MessageType::fatal_error)).header.control} == 5);
    CHECK(int{(co_await next_message(client.async, MessageType::fatal_error)).header.control} == 5);
    CHECK(co_await is_closed(client.sync));
  });
}

TEST_CASE("hislip server: our client with its login alone encrypted is served, also after a clear, or told why not",
          "[transport]") {
  ClientOptions options;
  options.fingerprint = fingerprint();
  options.login = {"bench", "s"};
  options.encrypt_login_only = true;
  with_server(security(false, {"bench", "s"}), [options](HislipServer& server) -> task<> {
    const auto link = co_await hislip::connect(parse_resource_name(server.resource_name()), options);
    Buffer answer;
    co_await link->query("a?", answer);
    CHECK(answer == "echo of a?");
    co_await link->clear();
    co_await link->query("b?", answer);
    CHECK(answer == "echo of b?");
  });
  with_server(security(true, {"bench", "s"}), [options](HislipServer& server) -> task<> {
    const auto name = parse_resource_name(server.resource_name());
    const auto error = co_await error_of([&]() -> task<> { co_await hislip::connect(name, options); });
    CHECK_THAT(error.message, Catch::Contains("does not end encryption after the login (error)"));
  });
}
