// SPDX-License-Identifier: Apache-2.0
// One client's session at the server, message by message: messages and answers (IVI-6.1, 3.1 and 3.2).
#include "instruments/transport/hislip/conversation.hpp"

#include "core/base/deadline.hpp"
#include "tests/instruments/transport/hislip/served_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;
using namespace std::chrono_literals;

TEST_CASE("hislip session: an answer carries the id of the message that held the end of its query", "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    co_await send_message(client.sync, {MessageType::data, 0, id0}, "a");
    co_await send_message(client.sync, {MessageType::data, 0, id1}, "b");
    co_await tell(client, id2, "?");  // without NL
    co_await expect_answer(client, id2, "ab?");
    CHECK(bench.device.messages == std::vector<std::string>{"ab?"});
    CHECK(bench.device.query_errors.empty());
  });
}

TEST_CASE("hislip session: one NL at the end is no part of the message, and a block keeps its own", "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    co_await tell(client, id0, "A #12\n\n");
    co_await tell(client, id1, "B #12\n\n\n");
    co_await tell(client, id2, "C\nD\r\n\n");
    co_await tell(client, id2 + 2, "");
    co_await tell(client, id2 + 4, "E?");
    co_await expect_answer(client, id2 + 4, "E?");
    CHECK(bench.device.messages == std::vector<std::string>{"A #12\n\n", "B #12\n\n", "C", "D", "E?"});
  });
}

TEST_CASE("hislip session: a message that comes before the answer is out interrupts it on both connections",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    co_await tell(client, id0, "WAIT? 20\n");
    co_await tell(client, id1, "next?\n");
    const auto sync = co_await next_message(client.sync, MessageType::interrupted);
    CHECK(sync.header.parameter == id1);
    const auto async = co_await next_message(client.async, MessageType::async_interrupted);
    CHECK(async.header.parameter == id1);
    co_await expect_answer(client, id1, "next?");
    CHECK(bench.device.query_errors == std::vector<int>{-410});
    CHECK(bench.device.messages == std::vector<std::string>{"WAIT? 20", "next?"});
  });
}

TEST_CASE("hislip session: an answer that was sent and not read is -410 with the next message, told once",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    co_await tell(client, id0, "one?\n");
    co_await expect_answer(client, id0, "one?");
    co_await tell(client, id1, "two?\n", rmt_delivered);
    co_await expect_answer(client, id1, "two?");
    CHECK(bench.device.query_errors.empty());
    co_await tell(client, id2, "three?\n");
    co_await expect_answer(client, id2, "three?");
    CHECK(bench.device.query_errors == std::vector<int>{-410});
    co_await send_message(client.sync, {MessageType::trigger, rmt_delivered, id2 + 2});
    co_await tell(client, id2 + 4, "four?\n");
    co_await expect_answer(client, id2 + 4, "four?");
    CHECK(bench.device.query_errors == std::vector<int>{-410});
    CHECK(bench.device.messages == std::vector<std::string>{"one?", "two?", "three?", "*TRG", "four?"});
  });
}

TEST_CASE("hislip session: a server that prefers overlapped mode says so and works so at once", "[transport]") {
  with_server(
      [](Bench bench) -> task<> {
        auto client = co_await raw_client(bench.server.port());
        CHECK(int{client.initialize_response.header.control} == initialize_flags::prefer_overlapped);
        co_await tell(client, 1000, "a?\n");
        co_await tell(client, 1002, "b?\n");
        co_await expect_answer(client, id0, "a?");
        co_await expect_answer(client, id1, "b?");
      },
      {.prefer_overlapped = true});
}

TEST_CASE("hislip session: answers are cut to the size that the client takes", "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    const auto size = encode_size(116);  // the header is counted
    co_await send_message(client.async, {MessageType::async_maximum_message_size}, {size.data(), size.size()});
    co_await next_message(client.async, MessageType::async_maximum_message_size_response);
    std::uint32_t id = id0;
    for (const std::size_t count : {99U, 100U, 101U, 250U}) {
      co_await tell(client, id, "MUCH? " + std::to_string(count) + "\n", id == id0 ? 0 : rmt_delivered);
      std::string whole;
      for (bool end = false; !end;) {
        const auto message = co_await next_message(client.sync);
        CHECK(message.header.parameter == id);
        CHECK(message.payload.size() <= 100);
        end = message.header.type == MessageType::data_end;
        whole += message.payload;
      }
      CHECK(whole == std::string(count, 'm') + "\n");
      id += 2;
    }
  });
}
