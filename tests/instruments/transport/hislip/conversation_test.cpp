// SPDX-License-Identifier: Apache-2.0
// One client's session at the server, message by message: the rules of IVI-6.1, 3.1, 6.3, 6.5, 6.7, 6.12 to 6.14.
#include "instruments/transport/hislip/conversation.hpp"

#include "core/base/deadline.hpp"
#include "instruments/scpi/status.hpp"
#include "instruments/transport/hislip/server.hpp"
#include "tests/instruments/transport/hislip/peer.hpp"
#include "tests/support/run_task.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;
using namespace std::chrono_literals;

namespace {

// "WAIT? n" answers after n ms, "MUCH? n" by n letters, what ends in '?' is echoed, "DONE" sets the operation complete
// bit, anything else does nothing. It has the status model of IEEE 488.2.
class PlainDevice final : public Device {
 public:
  explicit PlainDevice(base::Timeline& timeline) : timeline_(timeline) { status.read_event(); }

  task<> execute(std::string_view message, Reply& reply) override {
    messages.emplace_back(message);
    const auto number = [&] { return std::stoul(std::string(message.substr(message.find(' ')))); };
    if (message.starts_with("WAIT? ")) {
      co_await timeline_.sleep(std::chrono::milliseconds(number()));
      reply.bytes = "waited";
    } else if (message.starts_with("MUCH? ")) {
      reply.bytes.assign(number(), 'm');
    } else if (message.ends_with('?')) {
      reply.bytes = message;
    } else if (message == "DONE") {
      status.set_event(scpi::Status::opc);
    }
    notice(false);
    executed.strike();
  }
  void clear() override { ++clears; }
  std::uint8_t serial_poll(bool message_available) override { return status.serial_poll(message_available); }
  std::uint8_t status_to_announce(bool message_available) override {
    return status.status_to_announce(message_available);
  }
  void answer_waits() override { notice(true); }
  task<std::uint64_t> service_requested(std::uint64_t seen) override {
    while (status.requests() <= seen) co_await requested_.wait();
    co_return status.requests();
  }
  void query_error(int number) override { query_errors.push_back(number); }
  void remote_local(RemoteLocal what) override { control.push_back(what); }

  void notice(bool message_available) {
    status.notice(message_available);
    requested_.strike();
  }

  std::vector<std::string> messages;
  std::vector<int> query_errors;
  std::vector<RemoteLocal> control;
  int clears = 0;
  scpi::Status status;
  base::Gong executed;

 private:
  base::Timeline& timeline_;
  base::Gong requested_;
};

struct Bench {
  base::Timeline& timeline;
  HislipServer& server;
  PlainDevice& device;
};
using Body = std::function<task<>(Bench)>;

void with_server(const Body& body, Listen listen = {}) {
  Wall wall;
  auto main = [](base::Timeline& timeline, const Body& inner, Listen wanted) -> task<> {
    const auto device = std::make_shared<PlainDevice>(timeline);
    HislipServer server(co_await boost::asio::this_coro::executor, timeline, {{"hislip0", device}}, wanted);
    co_await inner({timeline, server, *device});
    // Nothing is left of a session whose client has gone.
    while (server.clients() > 0) co_await timeline.sleep(1ms);
  };
  wall.run(main(*wall.timeline, body, listen));
}

constexpr std::uint32_t id0 = first_message_id;
constexpr std::uint32_t id1 = first_message_id + 2;
constexpr std::uint32_t id2 = first_message_id + 4;

task<> tell(RawClient& client, std::uint32_t id, std::string message, std::uint8_t control = 0) {
  co_await send_message(client.sync, {MessageType::data_end, control, id}, std::move(message));
}

task<> expect_answer(RawClient& client, std::uint32_t id, std::string answer) {
  const auto message = co_await next_message(client.sync, MessageType::data_end);
  CHECK(message.header.parameter == id);
  CHECK(message.payload == answer + "\n");
}

task<int> poll(RawClient& client, std::uint32_t id, std::uint8_t control = 0) {
  co_await send_message(client.async, {MessageType::async_status_query, control, id});
  co_return (co_await next_message(client.async, MessageType::async_status_response)).header.control;
}

task<int> ask_lock(RawClient& client, std::string key, std::uint32_t wait_ms = 0) {
  co_await send_message(client.async, {MessageType::async_lock, 1, wait_ms}, std::move(key));
  co_return (co_await next_message(client.async, MessageType::async_lock_response)).header.control;
}

task<int> release_lock(RawClient& client, std::uint32_t id = before_first_id) {
  co_await send_message(client.async, {MessageType::async_lock, 0, id});
  co_return (co_await next_message(client.async, MessageType::async_lock_response)).header.control;
}

task<> device_clear(RawClient& client, std::uint8_t features = 0) {
  co_await send_message(client.async, {MessageType::async_device_clear});
  const auto offer = co_await next_message(client.async, MessageType::async_device_clear_acknowledge);
  CHECK(int{offer.header.control} == 0);
  co_await send_message(client.sync, {MessageType::device_clear_complete, features});
  for (;;) {
    const auto message = co_await next_message(client.sync);
    if (message.header.type != MessageType::device_clear_acknowledge) continue;
    CHECK(message.header.control == features);
    co_return;
  }
}

}  // namespace

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

TEST_CASE("hislip session: message available is bit 4 until the client says that it has read", "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    CHECK(co_await poll(client, before_first_id) == 0);
    co_await tell(client, id0, "one?\n");
    co_await expect_answer(client, id0, "one?");
    CHECK(co_await poll(client, id0) == 0x10);
    CHECK(co_await poll(client, id1) == 0);  // a newer message is on its way
    CHECK(co_await poll(client, id0) == 0x10);
    CHECK(co_await poll(client, id0, rmt_delivered) == 0);
    co_await tell(client, id1, "two?\n");
    co_await expect_answer(client, id1, "two?");
    CHECK(bench.device.query_errors.empty());
  });
}

TEST_CASE("hislip session: a service request is sent once, keeps RQS, and again only after a status query",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    bench.device.status.set_event_enable(1);
    bench.device.status.set_service_enable(32);
    co_await tell(client, id0, "DONE\n");
    auto request = co_await next_message(client.async, MessageType::async_service_request);
    CHECK(int{request.header.control} == 0x60);
    // A second reason while the first is not asked for.
    bench.device.status.read_event();
    bench.device.notice(false);
    co_await tell(client, id1, "DONE\n");
    co_await bench.device.executed.wait();
    CHECK(bench.device.status.requests() == 2);
    CHECK(co_await poll(client, id1) == 0x60);  // the next message is this answer: no second request came between
    CHECK(co_await poll(client, id1) == 0x20);
    bench.device.status.read_event();
    bench.device.notice(false);
    co_await tell(client, id2, "DONE\n");
    request = co_await next_message(client.async, MessageType::async_service_request);
    CHECK(int{request.header.control} == 0x60);
    // MAV as the reason: the answer asks for service.
    CHECK(co_await poll(client, id2) == 0x60);
    bench.device.status.set_service_enable(16);
    co_await tell(client, id2 + 2, "who?\n");
    request = co_await next_message(client.async, MessageType::async_service_request);
    CHECK(int{request.header.control} == 0x70);
    co_await expect_answer(client, id2 + 2, "who?");
  });
}

TEST_CASE("hislip session: locks are exclusive or shared by key, wait as long as asked, and end with their client",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto a = co_await raw_client(bench.server.port());
    auto b = co_await raw_client(bench.server.port());
    {
      auto c = co_await raw_client(bench.server.port());
      CHECK(co_await release_lock(a) == 3);  // none is held
      CHECK(co_await ask_lock(a, "key") == 1);
      CHECK(co_await ask_lock(a, "key") == 3);  // held already
      CHECK(co_await ask_lock(b, "key") == 1);
      CHECK(co_await ask_lock(c, "other") == 0);
      CHECK(co_await ask_lock(c, "") == 0);  // exclusive over shared is for a holder
      CHECK(co_await ask_lock(a, "") == 1);
      CHECK(co_await ask_lock(b, "", 20) == 0);
      co_await send_message(c.async, {MessageType::async_lock_info});
      const auto info = co_await next_message(c.async, MessageType::async_lock_info_response);
      CHECK(int{info.header.control} == 1);
      CHECK(info.header.parameter == 2);
      CHECK(co_await release_lock(a) == 1);
      CHECK(co_await release_lock(a) == 2);
      CHECK(co_await release_lock(b) == 2);
      CHECK(co_await ask_lock(c, "") == 1);
      // b waits until c goes away.
      co_await send_message(b.async, {MessageType::async_lock, 1, 10'000});
      CHECK(co_await poll(b, before_first_id) == 0);  // answered meanwhile
      CHECK(co_await ask_lock(b, "") == 3);           // one request at a time
    }
    const auto granted = co_await next_message(b.async, MessageType::async_lock_response);
    CHECK(int{granted.header.control} == 1);
    CHECK(co_await release_lock(b) == 1);
  });
}

TEST_CASE("hislip session: who is locked out is not executed, yet asks for status, sizes and locks and clears",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto owner = co_await raw_client(bench.server.port());
    auto other = co_await raw_client(bench.server.port());
    CHECK(co_await ask_lock(owner, "") == 1);
    co_await tell(other, id0, "dropped?\n");
    CHECK(co_await poll(other, id0) == 0);
    const auto size = encode_size(5000);
    co_await send_message(other.async, {MessageType::async_maximum_message_size}, {size.data(), size.size()});
    co_await next_message(other.async, MessageType::async_maximum_message_size_response);
    co_await device_clear(other);
    co_await tell(other, id0, "later?\n");
    co_await tell(owner, id0, "now?\n");
    co_await expect_answer(owner, id0, "now?");
    CHECK(bench.device.messages == std::vector<std::string>{"now?"});
    CHECK(co_await release_lock(owner, id0) == 1);
    co_await expect_answer(other, id0, "later?");
  });
}

TEST_CASE("hislip session: the release of a lock and remote control wait for the message that they name",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    CHECK(co_await ask_lock(client, "") == 1);
    co_await tell(client, id0, "WAIT? 20\n");
    co_await send_message(client.async, {MessageType::async_lock, 0, id0});
    CHECK(co_await poll(client, id0) == 0);  // is answered first
    CHECK(bench.device.access.is_exclusive());
    const auto released = co_await next_message(client.async, MessageType::async_lock_response);
    CHECK(int{released.header.control} == 1);
    co_await expect_answer(client, id0, "waited");
    co_await tell(client, id1, "WAIT? 20\n", rmt_delivered);
    co_await send_message(client.async, {MessageType::async_remote_local_control, 5, id1});
    CHECK(co_await poll(client, id1) == 0);
    CHECK(bench.device.control.empty());
    co_await next_message(client.async, MessageType::async_remote_local_response);
    CHECK(bench.device.control == std::vector<RemoteLocal>{RemoteLocal::lockout});
    // An id that names nothing that could have been sent holds nothing up; a request unknown to 6.7 is told.
    co_await send_message(client.async, {MessageType::async_remote_local_control, 7, id1 + 0x1000000});
    const auto error = co_await next_message(client.async, MessageType::error);
    CHECK(int{error.header.control} == 2);
  });
}

TEST_CASE("hislip session: a device clear ends what is executed, drops what was sent, and negotiates the mode",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    co_await tell(client, id0, "WAIT? 3600000\n");
    co_await send_message(client.sync, {MessageType::data, 0, id1}, "half of a mess");
    co_await device_clear(client);
    CHECK(bench.device.clears == 1);
    co_await tell(client, id0, "whole?\n");
    co_await expect_answer(client, id0, "whole?");
    CHECK(bench.device.messages == std::vector<std::string>{"WAIT? 3600000", "whole?"});
    co_await device_clear(client, feature_overlapped);
    co_await tell(client, id0, "a?\n");
    co_await tell(client, id1, "b?\n");
    co_await expect_answer(client, id0, "a?");
    co_await expect_answer(client, id1, "b?");  // counted by the server
    CHECK(bench.device.query_errors.empty());
    CHECK(co_await poll(client, id0) == 0x10);
    CHECK(co_await poll(client, id1) == 0);
  });
}

TEST_CASE("hislip session: a device clear in the middle of a long answer finishes the message that was begun",
          "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto client = co_await raw_client(bench.server.port());
    co_await tell(client, id0, "MUCH? 64000000\n");
    co_await bench.device.executed.wait();
    co_await bench.timeline.sleep(5ms);  // the answer fills the wire
    co_await device_clear(client);
    co_await tell(client, id0, "next?\n");
    co_await expect_answer(client, id0, "next?");
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
