// SPDX-License-Identifier: Apache-2.0
// One client's session at the server, continued: what clients do wrong (6.2, 6.3), and how sessions end.
#include "instruments/transport/hislip/conversation.hpp"

#include "core/base/deadline.hpp"
#include "tests/instruments/transport/hislip/served_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;
using namespace std::chrono_literals;

TEST_CASE("hislip session: what can be skipped is answered by an error, and the session goes on (6.3)", "[transport]") {
  struct Row {
    bool sync;
    Header header;
    std::string payload;
    int error;
  };
  const Row rows[] = {
      {true, {static_cast<MessageType>(60), 0, 0}, std::string(100'000, 'p'), 1},
      {true, {static_cast<MessageType>(128), 0, 0}, "", 3},
      {true, {MessageType::start_tls, 0, 0}, "", 1},
      {true, {MessageType::device_clear_complete, 0, 0}, "", 0},
      {true, {MessageType::data_end, 2, id0}, "not executed\n", 2},
      {true, {MessageType::data_end, 0, id0}, std::string(most_payload_bytes + header_bytes + 1, 'p'), 4},
      {false, {static_cast<MessageType>(99), 0, 0}, "abc", 1},
      {false, {static_cast<MessageType>(255), 0, 0}, "abc", 3},
      {false, {MessageType::async_lock, 2, 0}, "", 2},
      {false, {MessageType::async_start_tls, 0, 0}, "", 1},
      {false, {MessageType::async_maximum_message_size, 0, 0}, std::string(8, '\0'), 0},
  };
  with_server([&rows](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    std::uint32_t id = id0;
    for (const Row& row : rows) {
      CAPTURE(name_of(row.header.type));
      Channel& channel = row.sync ? client.sync : client.async;
      co_await send_message(channel, row.header, row.payload);
      const auto error = co_await next_message(channel, MessageType::error);
      CHECK(int{error.header.control} == row.error);
      CHECK_FALSE(error.payload.empty());
      co_await tell(client, id, "still?\n", id == id0 ? 0 : rmt_delivered);
      co_await expect_answer(client, id, "still?");
      id += 2;
    }
    CHECK(bench.device.messages == std::vector<std::string>(std::size(rows), "still?"));
    co_await send_message(client.sync, {MessageType::get_descriptors});
    CHECK((co_await next_message(client.sync, MessageType::get_descriptors_response)).payload.empty());
    co_await send_message(client.async, {MessageType::get_descriptors});
    co_await next_message(client.async, MessageType::get_descriptors_response);
  });
}

TEST_CASE("hislip session: a program message beyond the limit is refused as a whole, in parts or not", "[transport]") {
  with_server(
      [](Bench bench) -> task<> {
        auto client = co_await raw_client(bench.server.port());
        co_await send_message(client.sync, {MessageType::data, 0, id0}, std::string(600, 'a'));
        co_await send_message(client.sync, {MessageType::data, 0, id1}, std::string(600, 'b'));
        CHECK(int{(co_await next_message(client.sync, MessageType::error)).header.control} == 4);
        co_await tell(client, id2, "end?\n");  // belongs to the refused one
        co_await tell(client, id2 + 2, "next?\n");
        co_await expect_answer(client, id2 + 2, "next?");
        CHECK(bench.device.messages == std::vector<std::string>{"next?"});
      },
      {.most_message_bytes = 1000});
}

TEST_CASE("hislip session: what cannot be understood is a fatal error on both connections, and locks are lost (6.2)",
          "[transport]") {
  struct Row {
    bool sync;
    std::string bytes;
    int code;
  };
  const auto bytes = [](const Header& header) {
    const auto head = encode(header);
    return std::string(head.data(), head.size());
  };
  const Row row = GENERATE_COPY(Row{true, "GET / HTTP", 1}, Row{false, "H!", 1},
                                Row{true, bytes({MessageType::async_status_query}), 1},      // on the wrong connection
                                Row{false, bytes({MessageType::data_end, 0, id0, 5}), 1},    // the same
                                Row{true, bytes({MessageType::interrupted}), 1},             // not for a client
                                Row{true, bytes({MessageType::trigger, 0, id0, ~0ULL}), 1},  // has no payload
                                Row{false, bytes({MessageType::async_lock, 1, 0, 1ULL << 63U}), 1},
                                Row{true, bytes({MessageType::initialize, 0, 0x01005A5A, 0}), 3},
                                Row{false, bytes({MessageType::async_initialize, 0, 1, 0}), 3});
  with_server([&row](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    CHECK(co_await ask_lock(client, "") == 1);
    boost::system::error_code error;
    (row.sync ? client.sync : client.async).socket().write_some(boost::asio::buffer(row.bytes), error);
    REQUIRE_FALSE(error);
    for (Channel* channel : {&client.sync, &client.async}) {
      const auto fatal = co_await next_message(*channel, MessageType::fatal_error);
      CHECK(int{fatal.header.control} == row.code);
      CHECK_FALSE(fatal.payload.empty());
      CHECK(co_await is_closed(*channel));
    }
    CHECK_FALSE(bench.device.access.is_exclusive());
  });
}

TEST_CASE("hislip session: when either connection closes, the other one does, and what is executed ends",
          "[transport]") {
  const bool sync = GENERATE(true, false);
  with_server([sync](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    CHECK(co_await ask_lock(client, "") == 1);
    if (!sync) co_await tell(client, id0, "WAIT? 3600000\n");
    (sync ? client.sync : client.async).close();
    CHECK(co_await is_closed(sync ? client.async : client.sync));
    while (bench.server.clients() > 0) co_await bench.timeline.sleep(1ms);
    CHECK_FALSE(bench.device.access.is_exclusive());
  });
}

TEST_CASE("hislip session: a client that fetches no answers is sent away, whatever it asks", "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    while (!co_await client.async.send({MessageType::async_lock_info})) {
    }
    while (bench.server.clients() > 0) co_await bench.timeline.sleep(1ms);
    CHECK(co_await is_closed(client.sync));
  });
}
