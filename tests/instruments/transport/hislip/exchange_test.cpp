// SPDX-License-Identifier: Apache-2.0
// The rules of IVI-6.1, 3.1 (synchronised mode), 3.2 (overlapped mode), 6.7 (remote and local) and 6.14 (message
// available), each as a small story or a table.
#include "instruments/transport/hislip/exchange.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using Take = ClientExchange::Take;

TEST_CASE("hislip client rules: ids begin at FFFFFF00, go on by 2 and wrap", "[transport]") {
  ClientExchange exchange;
  CHECK(exchange.last_sent() == 0xFFFFFEFE);  // nothing sent yet
  CHECK(exchange.stamp_status_query().id == 0xFFFFFEFE);
  CHECK(exchange.stamp_message().id == 0xFFFFFF00);
  CHECK(exchange.stamp_message().id == 0xFFFFFF02);
  CHECK(exchange.last_sent() == 0xFFFFFF02);
  for (int i = 0; i < 125; ++i) exchange.stamp_message();
  CHECK(exchange.last_sent() == 0xFFFFFFFC);
  CHECK(exchange.stamp_message().id == 0xFFFFFFFE);
  CHECK(exchange.stamp_message().id == 0);
}

TEST_CASE("hislip client rules: RMT-delivered is reported once, by the first message or status query after it",
          "[transport]") {
  ClientExchange exchange;
  const auto query = exchange.stamp_message();
  CHECK_FALSE(query.rmt_delivered);
  exchange.delivered(query.id);
  CHECK(exchange.stamp_message().rmt_delivered);
  CHECK_FALSE(exchange.stamp_message().rmt_delivered);
  CHECK_FALSE(exchange.stamp_status_query().rmt_delivered);
  exchange.delivered(exchange.last_sent());
  CHECK(exchange.stamp_status_query().rmt_delivered);
  CHECK_FALSE(exchange.stamp_message().rmt_delivered);
}

TEST_CASE("hislip client rules 1 and 2: what does not answer the last message is dropped", "[transport]") {
  ClientExchange exchange;
  exchange.stamp_message();
  const auto last = exchange.stamp_message().id;
  struct Row {
    std::uint32_t id;
    bool end;
    Take take;
  };
  const Row rows[] = {
      {last, true, Take::keep},       {last, false, Take::keep},    {last - 2, true, Take::drop},
      {last - 2, false, Take::drop},  {last + 2, true, Take::drop}, {0xFFFFFFFF, false, Take::keep},
      {0xFFFFFFFF, true, Take::drop}, {0, true, Take::drop},
  };
  for (const Row& row : rows) {
    CAPTURE(row.id, row.end);
    CHECK(exchange.on_data(row.id, row.end) == row.take);
  }
}

TEST_CASE("hislip client rule 4: both halves of an interruption are seen before anything goes on", "[transport]") {
  ClientExchange exchange;
  const auto id = exchange.stamp_message().id;
  SECTION("the asynchronous one first") {
    exchange.on_async_interrupted();
    CHECK(exchange.waits_for_interrupted());
    CHECK(exchange.on_data(id, true) == Take::drop);
    exchange.on_interrupted();
  }
  SECTION("the synchronous one first") {
    exchange.on_interrupted();
    CHECK(exchange.waits_for_async_interrupted());
    exchange.on_async_interrupted();
  }
  CHECK_FALSE(exchange.waits_for_interrupted());
  CHECK_FALSE(exchange.waits_for_async_interrupted());
  CHECK(exchange.on_data(id, true) == Take::keep);
}

TEST_CASE("hislip client rules: in overlapped mode nothing is dropped and a status query names what was read",
          "[transport]") {
  ClientExchange exchange(Mode::overlapped);
  exchange.stamp_message();
  exchange.stamp_message();
  CHECK(exchange.on_data(0xFFFFFF00, true) == Take::keep);
  CHECK(exchange.stamp_status_query().id == 0xFFFFFEFE);
  exchange.delivered(0xFFFFFF00);
  CHECK(exchange.stamp_status_query().id == 0xFFFFFF00);
}

TEST_CASE("hislip client rules: in overlapped mode the server's messages are counted by two, and nothing is missing",
          "[transport]") {
  ClientExchange exchange(Mode::overlapped);
  SECTION("each message of a response has an id of its own") {
    CHECK(exchange.on_data(0xFFFFFF00, false) == Take::keep);
    CHECK(exchange.on_data(0xFFFFFF02, true) == Take::keep);
    CHECK(exchange.on_data(0xFFFFFF04, true) == Take::keep);
  }
  SECTION("all messages of a response have its id") {
    CHECK(exchange.on_data(0xFFFFFF00, false) == Take::keep);
    CHECK(exchange.on_data(0xFFFFFF00, true) == Take::keep);
    CHECK(exchange.on_data(0xFFFFFF02, true) == Take::keep);
  }
  SECTION("a response that comes twice") {
    CHECK(exchange.on_data(0xFFFFFF00, true) == Take::keep);
    CHECK(exchange.on_data(0xFFFFFF00, true) == Take::out_of_count);
  }
  SECTION("a response that is missing") { CHECK(exchange.on_data(0xFFFFFF02, true) == Take::out_of_count); }
  SECTION("they wrap") {
    for (std::uint32_t id = 0xFFFFFF00; id != 2; id += 2) CHECK(exchange.on_data(id, true) == Take::keep);
  }
}

TEST_CASE("hislip server rules: RMT-expected against RMT-delivered decides about -410", "[transport]") {
  struct Row {
    bool response_sent, polled, polled_with_rmt, next_with_rmt, interrupted;
  };
  const Row rows[] = {
      {false, false, false, false, false},  // a command, then another one
      {false, false, false, true, true},    // read what was never sent
      {true, false, false, true, false},    // read, and told with the next message
      {true, false, false, false, true},    // not read
      {true, true, true, false, false},     // read, and told with a status query
      {true, true, false, false, true},     // asked for the status, not read
      {true, true, false, true, false},
  };
  for (const Row& row : rows) {
    CAPTURE(row.response_sent, row.polled, row.polled_with_rmt, row.next_with_rmt);
    ServerExchange exchange;
    REQUIRE_FALSE(exchange.on_message(first_message_id, false));
    if (row.response_sent) {
      exchange.response_begins(exchange.response_id(first_message_id));
      exchange.response_ends();
    }
    if (row.polled) exchange.message_available(first_message_id, row.polled_with_rmt);
    CHECK(exchange.on_message(first_message_id + 2, row.next_with_rmt) == row.interrupted);
    // Whatever it was, it is told once.
    CHECK_FALSE(exchange.on_message(first_message_id + 4, false));
    CHECK_FALSE(exchange.response_waits());
  }
}

TEST_CASE("hislip server rules: message available from the first data of a response until it is read (6.14)",
          "[transport]") {
  ServerExchange exchange;
  const std::uint32_t id = first_message_id;
  CHECK_FALSE(exchange.message_available(before_first_id, false));
  exchange.on_message(id, false);
  CHECK_FALSE(exchange.message_available(id, false));
  exchange.response_begins(exchange.response_id(id));
  CHECK(exchange.message_available(id, false));
  exchange.response_ends();
  CHECK(exchange.message_available(id, false));
  CHECK(exchange.response_waits());
  // A client that has sent more by now cannot mean this response.
  CHECK_FALSE(exchange.message_available(id + 2, false));
  CHECK(exchange.message_available(id, false));
  CHECK_FALSE(exchange.message_available(id, true));
  CHECK_FALSE(exchange.message_available(id, false));
}

TEST_CASE("hislip server rules: overlapped responses are counted by the server, and nothing interrupts",
          "[transport]") {
  ServerExchange exchange(Mode::overlapped);
  CHECK_FALSE(exchange.is_interrupted_by_waiting());
  CHECK_FALSE(exchange.on_message(7, false));
  CHECK(exchange.response_id(7) == 0xFFFFFF00);
  exchange.response_begins(0xFFFFFF00);
  exchange.response_ends();
  CHECK_FALSE(exchange.on_message(9, false));
  CHECK(exchange.response_id(9) == 0xFFFFFF02);
  exchange.response_begins(0xFFFFFF02);
  CHECK(exchange.message_available(before_first_id, false));
  CHECK(exchange.message_available(0xFFFFFF00, false));
  CHECK_FALSE(exchange.message_available(0xFFFFFF02, false));
}

TEST_CASE("hislip rules: one id is behind another, over the wrap too", "[transport]") {
  CHECK(is_behind(0xFFFFFEFE, 0xFFFFFF00));
  CHECK(is_behind(0xFFFFFFFE, 0));
  CHECK_FALSE(is_behind(0, 0xFFFFFFFE));
  CHECK_FALSE(is_behind(5, 5));
}

TEST_CASE("hislip rules: remote and local, requests 0 to 6 of 6.7", "[transport]") {
  struct Row {
    std::uint8_t request;
    bool enable, remote, lockout;
    std::optional<RemoteLocal> device;
  };
  // Each from the switches as the row before left them.
  const Row rows[] = {
      {1, true, false, false, std::nullopt},        {4, true, false, true, std::nullopt},
      {3, true, true, true, RemoteLocal::lockout},  {6, true, false, true, RemoteLocal::local},
      {5, true, true, true, RemoteLocal::lockout},  {2, false, false, false, RemoteLocal::local},
      {3, true, true, false, RemoteLocal::remote},  {4, true, true, true, RemoteLocal::lockout},
      {0, false, false, false, RemoteLocal::local},
  };
  RemoteSwitches switches;
  CHECK(switches.remote_enable());
  CHECK_FALSE(switches.remote());
  CHECK_FALSE(switches.local_lockout());
  for (const Row& row : rows) {
    CAPTURE(int{row.request});
    const auto change = switches.request(row.request);
    CHECK(change.known);
    CHECK(change.device == row.device);
    CHECK(switches.remote_enable() == row.enable);
    CHECK(switches.remote() == row.remote);
    CHECK(switches.local_lockout() == row.lockout);
  }
  CHECK_FALSE(switches.request(7).known);
  for (const auto what : {RemoteLocal::remote, RemoteLocal::local, RemoteLocal::lockout})
    CHECK(RemoteSwitches().request(request_code(what)).device == what);
}
