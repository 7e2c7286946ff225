// SPDX-License-Identifier: Apache-2.0
// What the HiSLIP client sends, byte by byte and rule by rule, and how it connects to servers that are old or odd. What
// it shares with all other transports is in tests/contract; hostile answers are in client_hostile_test.cpp, service
// requests and locks in client_beside_test.cpp.
#include "instruments/transport/hislip/client.hpp"

#include "instruments/transport/session.hpp"
#include "tests/instruments/transport/hislip/played_client.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;
using namespace std::chrono_literals;

TEST_CASE("hislip client: it begins with its highest version and the sub-address of the resource name", "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    const auto& hello = peer.initialize_response;
    CHECK(hello.header.parameter == initialize_parameter(version_2_0, "ZZ"));
    CHECK(hello.payload == "hislip0");
    const auto first = co_await query_of(peer);
    CHECK(first.header == Header{MessageType::data_end, 0, 0xFFFFFF00, 6});
    CHECK(first.payload == "*IDN?\n");
    co_await send_message(peer.sync, answer_to(first), "A\n");
    const auto second = co_await query_of(peer);
    CHECK(second.header == Header{MessageType::data_end, rmt_delivered, 0xFFFFFF02, 3});
    co_await send_message(peer.sync, answer_to(second), "B");
    const auto third = co_await next_message(peer.async, MessageType::async_status_query);
    CHECK(third.header == Header{MessageType::async_status_query, rmt_delivered, 0xFFFFFF02, 0});
    co_await send_message(peer.async, {MessageType::async_status_response, 0x41});
    const auto trigger = co_await next_message(peer.sync, MessageType::trigger);
    CHECK(trigger.header == Header{MessageType::trigger, 0, 0xFFFFFF04, 0});
  };
  play(part, [](base::Timeline&, ResourceName name) -> task<> {
    const auto link = co_await hislip::connect(name);
    Buffer answer;
    co_await link->write("*IDN?");
    co_await link->read(answer);
    CHECK(answer == "A");
    co_await link->write("b?");
    co_await link->read(answer);
    CHECK(answer == "B");
    CHECK(int{co_await link->status_byte()} == 0x41);
    co_await link->trigger();
  });
}

TEST_CASE("hislip client: a server that refuses version 2.0, or would begin it encrypted, is asked for 1.0",
          "[transport]") {
  const bool refuses = GENERATE(true, false);
  const auto part = [refuses](PlayedServer::Accept accept) -> task<> {
    {
      Channel first = co_await accept();
      const auto hello = co_await next_message(first, MessageType::initialize);
      CHECK(version_in(hello.header.parameter) == version_2_0);
      if (refuses) {
        co_await send_message(first, {MessageType::fatal_error, 3}, "what version?");
      } else {
        co_await send_message(first, {MessageType::initialize_response, initialize_flags::initial_encryption,
                                      initialize_response_parameter(version_2_0, 7)});
      }
      CHECK(co_await is_closed(first));
    }
    const auto peer = co_await welcome(accept);
    CHECK(version_in(peer.initialize_response.header.parameter) == version_1_0);
  };
  play(part, [](base::Timeline&, ResourceName name) -> task<> { co_await hislip::connect(name); });
}

TEST_CASE("hislip client: what is wrong while connecting is told with the step and the peer's own words",
          "[transport]") {
  struct Row {
    Header answer;
    std::string payload;
    const char* words;
  };
  const auto version = initialize_response_parameter(version_2_0, 1);
  const Row row = GENERATE_COPY(
      Row{{MessageType::fatal_error, 4}, "ten\nare served", "fatal error 4 (too many clients): ten\\nare served"},
      Row{{MessageType::initialize_response, initialize_flags::encryption_mandatory, version}, "", "encrypted"},
      Row{{MessageType::initialize_response, 0, initialize_response_parameter(0x0300, 1)}, "", "version 3.0 came"},
      Row{{MessageType::initialize_response, 0, initialize_response_parameter(0, 1)}, "", "version 0.0 came"},
      Row{{MessageType::data_end, 0, 0}, "hello", "DataEND came"},
      Row{{MessageType::async_status_response, 0, 0}, "", "does not belong on the synchronous connection"},
      Row{{MessageType::initialize, 0, 0}, "", "not for the server to send"},
      Row{{MessageType::error, 1}, "", "error 1 (unrecognised message type)"});
  const auto part = [row](PlayedServer::Accept accept) -> task<> {
    Channel sync = co_await accept();
    co_await next_message(sync, MessageType::initialize);
    co_await send_message(sync, row.answer, row.payload);
    CHECK(co_await is_closed(sync));
  };
  play(part, fails_to_connect(row.words));
}

TEST_CASE("hislip client: a peer that speaks something else is told by its first bytes", "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    Channel sync = co_await accept();
    boost::system::error_code error;
    sync.socket().write_some(boost::asio::buffer("SSH-2.0", 7), error);
    CHECK_FALSE(error);
    co_await next_message(sync, MessageType::initialize);
    CHECK(co_await is_closed(sync));
  };
  play(part,
       fails_to_connect("while initialising, on the synchronous connection: byte 1 of a message header is \"S\""));
}

TEST_CASE("hislip client: a server that closes at once, or after the first answer, is told with the step",
          "[transport]") {
  const bool answers = GENERATE(true, false);
  const auto part = [answers](PlayedServer::Accept accept) -> task<> {
    Channel sync = co_await accept();
    co_await next_message(sync, MessageType::initialize);
    if (!answers) co_return;
    co_await send_message(sync, {MessageType::initialize_response, 0, initialize_response_parameter(version_1_0, 1)});
    Channel async = co_await accept();
    co_await next_message(async, MessageType::async_initialize);
  };
  play(part, fails_to_connect(answers ? "while opening the second connection" : "while initialising"));
}

TEST_CASE("hislip client: a server that takes messages of no size at all is refused", "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> { co_await welcome(accept, {0, version_1_0, 0}); };
  play(part, fails_to_connect("messages of 0 bytes"));
}

TEST_CASE("hislip client: a message is cut to the server's maximum size, and its end is in the last part only",
          "[transport]") {
  // The header is counted: 100 bytes of payload.
  const auto size = GENERATE(std::size_t{0}, 1U, 98U, 99U, 100U, 101U, 199U, 200U, 1000U);
  const auto part = [size](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept, {0, version_1_0, 116});
    std::string whole;
    std::uint32_t id = first_message_id;
    for (bool end = false; !end; id += 2) {
      const auto message = co_await next_message(peer.sync);
      CHECK(message.header.parameter == id);
      CHECK(message.payload.size() <= 100);
      end = message.header.type == MessageType::data_end;
      if (!end) CHECK(message.payload.size() == 100);
      whole += message.payload;
    }
    CHECK(whole == std::string(size, 'x') + "\n");
  };
  play(part, [size](base::Timeline&, ResourceName name) -> task<> {
    const auto link = co_await hislip::connect(name);
    co_await link->write(std::string(size, 'x'));
  });
}

TEST_CASE("hislip client: answers with another id than the last message's are dropped, whatever was kept before",
          "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    const auto query = co_await query_of(peer);
    const auto id = query.header.parameter;
    co_await send_message(peer.sync, {MessageType::data_end, 0, id - 2}, "late");
    co_await send_message(peer.sync, {MessageType::data, 0, unknown_message_id}, "of an unknown message");
    co_await send_message(peer.sync, {MessageType::data, 0, id - 2}, "late");
    co_await send_message(peer.sync, {MessageType::data, 0, id + 0x10000}, "early");
    co_await send_message(peer.sync, {MessageType::data, 0, unknown_message_id}, "ri");
    co_await send_message(peer.sync, {MessageType::data, 0, id}, "gh");
    co_await send_message(peer.sync, {MessageType::data_end, 0, id}, "t\n");
  };
  play(part, [](base::Timeline&, ResourceName name) -> task<> {
    const auto link = co_await hislip::connect(name);
    Buffer answer;
    co_await link->write("?");
    co_await link->read(answer);
    CHECK(answer == "right");
  });
}

TEST_CASE("hislip client: the two halves of an interruption may come in either order", "[transport]") {
  const bool async_first = GENERATE(true, false);
  const auto part = [async_first](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    const auto first = co_await query_of(peer);
    const auto second = co_await query_of(peer);
    const auto id = second.header.parameter;
    co_await send_message(peer.sync, {MessageType::data, 0, unknown_message_id}, "old");
    if (async_first) {
      co_await send_message(peer.async, {MessageType::async_interrupted, 0, id});
      // The client sees it while it asks for the status.
      co_await next_message(peer.async, MessageType::async_status_query);
      co_await send_message(peer.async, {MessageType::async_status_response});
    }
    co_await send_message(peer.sync, {MessageType::interrupted, 0, id});
    co_await send_message(peer.sync, {MessageType::data_end, 0, id}, "new");
    if (!async_first) {
      co_await next_message(peer.async, MessageType::async_status_query);
      co_await send_message(peer.async, {MessageType::async_status_response});
      co_await send_message(peer.async, {MessageType::async_interrupted, 0, id});
    }
    const auto third = co_await query_of(peer);
    co_await send_message(peer.sync, answer_to(third), "third");
  };
  play(part, [](base::Timeline&, ResourceName name) -> task<> {
    const auto link = co_await hislip::connect(name);
    Buffer answer;
    co_await link->write("first?");
    co_await link->write("second?");
    co_await link->status_byte();
    co_await link->read(answer);
    CHECK(answer == "new");
    co_await link->write("third?");
    co_await link->read(answer);
    CHECK(answer == "third");
  });
}

TEST_CASE("hislip client: a server that begins overlapped is asked for synchronised mode, and has the last word",
          "[transport]") {
  const bool yields = GENERATE(true, false);
  const auto part = [yields](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept, {initialize_flags::prefer_overlapped});
    co_await next_message(peer.async, MessageType::async_device_clear);
    co_await send_message(peer.async, {MessageType::async_device_clear_acknowledge, feature_overlapped});
    const auto complete = co_await next_message(peer.sync, MessageType::device_clear_complete);
    CHECK(int{complete.header.control} == 0);
    co_await send_message(peer.sync,
                          {MessageType::device_clear_acknowledge, yields ? std::uint8_t{0} : feature_overlapped});
    const auto query = co_await query_of(peer);
    co_await send_message(peer.sync, {MessageType::data_end, 0, yields ? query.header.parameter : first_message_id},
                          "yes");
    const auto poll = co_await next_message(peer.async, MessageType::async_status_query);
    CHECK(poll.header.parameter == (yields ? query.header.parameter : first_message_id));
    co_await send_message(peer.async, {MessageType::async_status_response});
  };
  play(part, [](base::Timeline&, ResourceName name) -> task<> {
    const auto link = co_await hislip::connect(name);
    Buffer answer;
    co_await link->write("?");
    co_await link->read(answer);
    CHECK(answer == "yes");
    co_await link->status_byte();
  });
}

TEST_CASE("hislip client: a device clear drops what still comes and begins the ids anew", "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    const auto query = co_await query_of(peer);
    co_await next_message(peer.async, MessageType::async_lock_info);  // nobody has locked it
    co_await send_message(peer.async, {MessageType::async_lock_info_response});
    co_await next_message(peer.async, MessageType::async_device_clear);
    co_await send_message(peer.async, {MessageType::async_status_response, 0xFF});  // of something given up
    co_await send_message(peer.async, {MessageType::async_device_clear_acknowledge});
    co_await send_message(peer.sync, {MessageType::data, 0, query.header.parameter}, std::string(100'000, 'o'));
    co_await next_message(peer.sync, MessageType::device_clear_complete);
    co_await send_message(peer.sync, answer_to(query), "late");
    co_await send_message(peer.sync, {MessageType::device_clear_acknowledge});
    const auto next = co_await query_of(peer);
    CHECK(next.header.parameter == first_message_id);
    CHECK(int{next.header.control} == 0);
    co_await send_message(peer.sync, answer_to(next), "next");
  };
  play(part, [](base::Timeline& timeline, ResourceName name) -> task<> {
    Session session(timeline, co_await hislip::connect(name));
    const auto error = co_await error_of([&]() -> task<> { co_await session.query("never?", short_wait); });
    CHECK(error.code == base::ErrorCode::time_out);
    CHECK(co_await session.query("next?", generous) == "next");
  });
}

TEST_CASE("hislip client: a port where nobody listens is told with the step that failed", "[transport]") {
  Wall wall;
  ResourceName name;
  {
    // A port that was just free.
    const PlayedServer server(wall.loop.get_executor(), [](PlayedServer::Accept) -> task<> { co_return; });
    name = server.name();
  }
  wall.run(fails_to_connect("cannot connect to port")(*wall.timeline, name));
}
