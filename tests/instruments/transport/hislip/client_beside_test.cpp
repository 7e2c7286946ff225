// SPDX-License-Identifier: Apache-2.0
// What the HiSLIP client does on the asynchronous connection: service requests and locks.
#include "instruments/transport/hislip/client.hpp"

#include "instruments/transport/session.hpp"
#include "tests/instruments/transport/hislip/played_client.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;
using namespace std::chrono_literals;

TEST_CASE("hislip client: a request for service that came during something else is not lost, malformed or not",
          "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    co_await next_message(peer.async, MessageType::async_remote_local_control);
    co_await send_message(peer.async, {MessageType::async_service_request, 0x50, 77}, "what is this");
    co_await send_message(peer.async, {MessageType::async_remote_local_response});
    co_await next_message(peer.async, MessageType::async_status_query);
    co_await send_message(peer.async, {MessageType::async_status_response, 0x50});
    co_await send_message(peer.async, {MessageType::async_service_request, 0x41});
  };
  play(part, [](base::Timeline& timeline, ResourceName name) -> task<> {
    Session session(timeline, co_await hislip::connect(name));
    co_await session.remote_local(RemoteLocal::remote, generous);
    CHECK(co_await session.wait_for_service(generous));
    CHECK(int{co_await session.status_byte(generous)} == 0x50);
    CHECK(co_await session.wait_for_service(generous));
  });
}

TEST_CASE("hislip client: a lock that others hold is told with how many they are", "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    const auto request = co_await next_message(peer.async, MessageType::async_lock);
    CHECK(request.header == Header{MessageType::async_lock, 1, 1500, 3});
    CHECK(request.payload == "key");
    co_await send_message(peer.async, {MessageType::async_lock_response, 0});
    co_await next_message(peer.async, MessageType::async_lock_info);
    co_await send_message(peer.async, {MessageType::async_lock_info_response, 1, 3});
    const auto release = co_await next_message(peer.async, MessageType::async_lock);
    CHECK(release.header == Header{MessageType::async_lock, 0, before_first_id, 0});
    co_await send_message(peer.async, {MessageType::async_lock_response, 3});
    co_await next_message(peer.async, MessageType::async_lock);
    co_await send_message(peer.async, {MessageType::async_lock_response, 77});
  };
  play(part, [](base::Timeline&, ResourceName name) -> task<> {
    const auto link = co_await hislip::connect(name);
    auto error = co_await error_of([&]() -> task<> { co_await link->lock("key", 1500ms); });
    CHECK(error.code == base::ErrorCode::no_connection);
    CHECK(error.message ==
          "someone else has locked the instrument, for longer than 1.50 s; 3 clients hold a lock, one of them "
          "exclusively");
    error = co_await error_of([&]() -> task<> { co_await link->unlock(); });
    CHECK(error.message == "no lock is held");
    error = co_await error_of([&]() -> task<> { co_await link->lock("", 0s); });
    CHECK_THAT(error.message, Catch::Contains("control code 77"));
    error = co_await error_of([&]() -> task<> { co_await link->lock(std::string(257, 'k'), 0s); });
    CHECK(error.code == base::ErrorCode::bad_input);
  });
}

TEST_CASE("hislip client: after a lock that was given up while it was asked for, only a new connection is certain",
          "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    {
      auto peer = co_await welcome(accept);
      co_await next_message(peer.async, MessageType::async_lock);
      CHECK(co_await is_closed(peer.async));
    }
    auto again = co_await welcome(accept);
    co_await send_message(again.sync, answer_to(co_await query_of(again)), "fine");
  };
  play(part, [](base::Timeline& timeline, ResourceName name) -> task<> {
    Session session(timeline, co_await hislip::connect(name));
    CHECK_FALSE(co_await base::finished_within(timeline, short_wait, session.lock("", 1h)));
    CHECK(co_await session.query("?", generous) == "fine");
  });
}

TEST_CASE("hislip client: a time-out at an instrument that others have locked says so (2.6.1)", "[transport]") {
  struct Row {
    std::uint8_t exclusive;
    std::uint32_t clients;
    bool locked_by_us;
    std::string told;
  };
  const Row rows[] = {
      {1, 1, false, "; someone else has locked the instrument; 1 client holds a lock, one of them exclusively"},
      {0, 2, false, "; someone else has locked the instrument; 2 clients hold a lock, shared"},
      {1, 1, true, ""},
      {0, 0, false, ""},
  };
  for (const Row& row : rows) {
    CAPTURE(row.told, row.locked_by_us);
    const auto part = [row](PlayedServer::Accept accept) -> task<> {
      auto peer = co_await welcome(accept);
      if (row.locked_by_us) {
        co_await next_message(peer.async, MessageType::async_lock);
        co_await send_message(peer.async, {MessageType::async_lock_response, 1});
      }
      co_await query_of(peer);
      co_await next_message(peer.async, MessageType::async_lock_info);
      co_await send_message(peer.async, {MessageType::async_lock_info_response, row.exclusive, row.clients});
      CHECK(co_await is_closed(peer.async));
    };
    play(part, [row](base::Timeline& timeline, ResourceName name) -> task<> {
      Session session(timeline, co_await hislip::connect(name));
      if (row.locked_by_us) co_await session.lock("", generous);
      const auto error = co_await error_of([&]() -> task<> { co_await session.query("?", short_wait); });
      CHECK(error.code == base::ErrorCode::time_out);
      CHECK(error.message == "no answer within 0.03 s" + row.told);
    });
  }
}

TEST_CASE("hislip client: an instrument that does not say who locks it is just silent", "[transport]") {
  const bool refuses = GENERATE(true, false);
  const auto part = [refuses](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    co_await query_of(peer);
    co_await next_message(peer.async, MessageType::async_lock_info);
    if (refuses) co_await send_message(peer.async, {MessageType::error, 1}, "what?");
    CHECK(co_await is_closed(peer.async));
  };
  play(part, [](base::Timeline& timeline, ResourceName name) -> task<> {
    Session session(timeline, co_await hislip::connect(name));
    const auto error = co_await error_of([&]() -> task<> { co_await session.query("?", short_wait); });
    CHECK(error.message == "no answer within 0.03 s");
  });
}
