// SPDX-License-Identifier: Apache-2.0
// What the HiSLIP client sends, byte by byte and rule by rule, and what it makes of servers that are old, odd or
// hostile. What it shares with all other transports is in tests/contract.
#include "instruments/transport/hislip/client.hpp"

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/transport/session.hpp"
#include "tests/instruments/transport/hislip/peer.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;
using namespace std::chrono_literals;

namespace {

constexpr base::Duration generous = 10s;
constexpr base::Duration short_wait = 30ms;

// A part of the server, and what the client does meanwhile; both play to their ends.
using Client = std::function<task<>(base::Timeline&, ResourceName)>;

task<> together(base::Timeline& timeline, PlayedServer::Part part, const Client& client) {
  PlayedServer server(co_await boost::asio::this_coro::executor, std::move(part));
  co_await client(timeline, server.name());
  REQUIRE(co_await base::finished_within(timeline, generous, server.ended()));
}

void play(PlayedServer::Part part, const Client& client) {
  Wall wall;
  wall.run(together(*wall.timeline, std::move(part), client));
}

template <class Attempt>
task<base::ErrorRecord> error_of(Attempt attempt) {
  base::ErrorRecord record;
  record.message = "nothing was thrown";
  try {
    co_await attempt();
  } catch (const base::Error& error) {
    record = error.record();
  }
  co_return record;
}

// The client that only tries to connect, and the words of its failure.
Client fails_to_connect(std::string words) {
  return [words](base::Timeline&, ResourceName name) -> task<> {
    const auto error = co_await error_of([&]() -> task<> { co_await hislip::connect(name); });
    CHECK(error.code == base::ErrorCode::no_connection);
    CHECK(error.where == name.canonical());
    CHECK_THAT(error.message, Catch::Contains(words));
    CHECK_FALSE(error.advice.empty());
  };
}

// Asks for one answer, and the words of its failure.
Client fails_to_query(std::string words, base::ErrorCode code = base::ErrorCode::bad_answer) {
  return [words, code](base::Timeline&, ResourceName name) -> task<> {
    const auto link = co_await hislip::connect(name);
    Buffer answer;
    co_await link->write("?");
    const auto error = co_await error_of([&]() -> task<> { co_await link->read(answer); });
    CHECK(error.code == code);
    CHECK(error.where == name.canonical());
    CHECK_THAT(error.message, Catch::Contains(words));
  };
}

task<Message> query_of(RawClient& peer) { co_return co_await next_message(peer.sync, MessageType::data_end); }

Header answer_to(const Message& query) { return {MessageType::data_end, 0, query.header.parameter}; }

}  // namespace

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
    co_await send_message(peer.sync, {MessageType::data_end, 0, yields ? query.header.parameter : 0xFFFFFF22}, "yes");
    const auto poll = co_await next_message(peer.async, MessageType::async_status_query);
    CHECK(poll.header.parameter == (yields ? query.header.parameter : 0xFFFFFF22));
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

TEST_CASE("hislip client: hostile answers are errors with what was wrong", "[transport]") {
  struct Row {
    Header message;
    std::string payload;
    const char* words;
  };
  const Row row = GENERATE(Row{{MessageType::interrupted, 0, 0}, "x", "Interrupted has a payload of 1 bytes"},
                           Row{{MessageType::async_service_request, 0, 0}, "", "does not belong on the synchronous"},
                           Row{{MessageType::trigger, 0, 0}, "", "not for the server to send"},
                           Row{{MessageType::device_clear_acknowledge, 0, 0}, "", "DeviceClearAcknowledge came"},
                           Row{{static_cast<MessageType>(255), 0, 0}, "", "message type 255 came"},
                           Row{{MessageType::error, 4}, "cut it", "error 4 (message too large): cut it"},
                           Row{{MessageType::data_end, 0, first_message_id}, "#15ab", "ends 3 bytes too early"},
                           Row{{MessageType::data_end, 0, first_message_id}, "#12abc", "should end the block"});
  const auto part = [row](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    co_await query_of(peer);
    co_await send_message(peer.sync, row.message, row.payload);
    CHECK(co_await is_closed(peer.sync));
  };
  play(part, fails_to_query(row.words));
}

TEST_CASE("hislip client: a fatal error is a lost connection with the instrument's words", "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    co_await query_of(peer);
    co_await send_message(peer.async, {MessageType::fatal_error, 1}, "too hot");
    co_await send_message(peer.sync, {MessageType::fatal_error, 1}, "too hot");
    CHECK(co_await is_closed(peer.sync));
    CHECK(co_await is_closed(peer.async));
  };
  play(part,
       fails_to_query("while reading: the instrument reports fatal error 1 (badly formed message header): too hot",
                      base::ErrorCode::connection_lost));
}

TEST_CASE("hislip client: announced lengths up to 2^64 - 1 are refused before anything is stored", "[transport]") {
  const auto length = GENERATE(std::uint64_t{1001 + 1}, std::uint64_t{1} << 63U, ~std::uint64_t{0});
  const auto part = [length](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    co_await query_of(peer);
    const auto header = encode({MessageType::data, 0, first_message_id, length});
    boost::system::error_code error;
    peer.sync.socket().write_some(boost::asio::buffer(header), error);
    CHECK_FALSE(error);
    CHECK(co_await is_closed(peer.sync));
  };
  play(part, [length](base::Timeline&, ResourceName name) -> task<> {
    const auto link = co_await hislip::connect(name);
    Buffer answer;
    co_await link->write("?");
    const auto error = co_await error_of([&]() -> task<> { co_await link->read(answer, 1000); });
    CHECK(error.code == base::ErrorCode::bad_answer);
    CHECK_THAT(error.message, Catch::Contains("limit of 1000 bytes"));
    CHECK_THAT(error.message, Catch::Contains(std::to_string(length)));
    CHECK(answer.capacity() < 2000);
  });
}

TEST_CASE("hislip client: messages without end and without bytes end at the deadline and store nothing",
          "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    co_await query_of(peer);
    while (!co_await peer.sync.send({MessageType::data, 0, first_message_id})) {
    }
  };
  play(part, [](base::Timeline& timeline, ResourceName name) -> task<> {
    Session session(timeline, co_await hislip::connect(name));
    Buffer answer;
    const auto error = co_await error_of([&]() -> task<> { co_await session.query("?", answer, short_wait); });
    CHECK(error.code == base::ErrorCode::time_out);
    CHECK(answer.capacity() < 1000);
  });
}

TEST_CASE("hislip client: a wrong byte inside a conversation is told, and clear() connects anew", "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    {
      auto peer = co_await welcome(accept);
      co_await query_of(peer);
      boost::system::error_code error;
      peer.sync.socket().write_some(boost::asio::buffer("HX", 2), error);
      CHECK(co_await is_closed(peer.sync));
    }
    auto again = co_await welcome(accept);
    const auto query = co_await query_of(again);
    CHECK(query.header.parameter == first_message_id);
    co_await send_message(again.sync, answer_to(query), "fine");
  };
  play(part, [](base::Timeline& timeline, ResourceName name) -> task<> {
    Session session(timeline, co_await hislip::connect(name));
    const auto error = co_await error_of([&]() -> task<> { co_await session.query("?", generous); });
    CHECK(error.code == base::ErrorCode::bad_answer);
    CHECK_THAT(error.message, Catch::Contains("byte 2 of a message header is \"X\""));
    CHECK(co_await session.query("?", generous) == "fine");
  });
}

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

TEST_CASE("hislip client: what the instrument does not know is told by its error, and the next query works",
          "[transport]") {
  const auto part = [](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept);
    co_await next_message(peer.async, MessageType::async_remote_local_control);
    co_await send_message(peer.async, {MessageType::error, 1}, std::string(1000, 'e'));
    co_await next_message(peer.async, MessageType::async_device_clear);
    co_await send_message(peer.async, {MessageType::async_device_clear_acknowledge});
    co_await next_message(peer.sync, MessageType::device_clear_complete);
    co_await send_message(peer.sync, {MessageType::device_clear_acknowledge});
    co_await send_message(peer.sync, answer_to(co_await query_of(peer)), "fine");
  };
  play(part, [](base::Timeline& timeline, ResourceName name) -> task<> {
    Session session(timeline, co_await hislip::connect(name));
    const auto error =
        co_await error_of([&]() -> task<> { co_await session.remote_local(RemoteLocal::local, generous); });
    CHECK(error.code == base::ErrorCode::bad_answer);
    CHECK_THAT(error.message, Catch::StartsWith("while switching between remote and local: the instrument reports "
                                                "error 1 (unrecognised message type): eee"));
    CHECK(co_await session.query("?", generous) == "fine");
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
