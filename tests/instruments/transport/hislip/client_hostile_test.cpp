// SPDX-License-Identifier: Apache-2.0
// What the HiSLIP client makes of servers that are odd or hostile while a conversation stands.
#include "instruments/transport/hislip/client.hpp"

#include "instruments/transport/session.hpp"
#include "tests/instruments/transport/hislip/played_client.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;
using namespace std::chrono_literals;

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

TEST_CASE("hislip client: in overlapped mode a message that is missing, or came twice, is no answer (3.2)",
          "[transport]") {
  const auto id = GENERATE(std::uint32_t{0xFFFFFEFE}, std::uint32_t{0xFFFFFF02}, std::uint32_t{7});
  const auto part = [id](PlayedServer::Accept accept) -> task<> {
    auto peer = co_await welcome(accept, {initialize_flags::prefer_overlapped});
    co_await query_of(peer);
    co_await send_message(peer.sync, {MessageType::data_end, 0, id}, "an answer");
    CHECK(co_await is_closed(peer.sync));
  };
  play(part, fails_to_query("so that one before it is missing or came twice", base::ErrorCode::bad_answer,
                            {.mode = Mode::overlapped}));
}
