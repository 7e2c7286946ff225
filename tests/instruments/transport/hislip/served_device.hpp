// SPDX-License-Identifier: Apache-2.0
// A HiSLIP server with a device that knows IEEE 488.2's status, and what a client says to it message by message.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "core/base/gong.hpp"
#include "instruments/scpi/status.hpp"
#include "instruments/transport/hislip/server.hpp"
#include "tests/instruments/transport/hislip/peer.hpp"
#include "tests/support/run_task.hpp"

namespace eyelevel::test {

using transport::Device;
using transport::RemoteLocal;
using transport::Reply;
using transport::hislip::before_first_id;
using transport::hislip::first_message_id;
using transport::hislip::HislipServer;
using transport::hislip::Listen;

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

inline void with_server(const Body& body, Listen listen = {}) {
  Wall wall;
  auto main = [](base::Timeline& timeline, const Body& inner, Listen wanted) -> task<> {
    const auto device = std::make_shared<PlainDevice>(timeline);
    HislipServer server(co_await boost::asio::this_coro::executor, timeline, {{"hislip0", device}}, wanted);
    co_await inner({timeline, server, *device});
    // Nothing is left of a session whose client has gone.
    while (server.clients() > 0) co_await timeline.sleep(std::chrono::milliseconds(1));
  };
  wall.run(main(*wall.timeline, body, listen));
}

inline constexpr std::uint32_t id0 = first_message_id;
inline constexpr std::uint32_t id1 = first_message_id + 2;
inline constexpr std::uint32_t id2 = first_message_id + 4;

inline task<> tell(RawClient& client, std::uint32_t id, std::string message, std::uint8_t control = 0) {
  co_await send_message(client.sync, {MessageType::data_end, control, id}, std::move(message));
}

inline task<> expect_answer(RawClient& client, std::uint32_t id, std::string answer) {
  const auto message = co_await next_message(client.sync, MessageType::data_end);
  CHECK(message.header.parameter == id);
  CHECK(message.payload == answer + "\n");
}

inline task<int> poll(RawClient& client, std::uint32_t id, std::uint8_t control = 0) {
  co_await send_message(client.async, {MessageType::async_status_query, control, id});
  co_return (co_await next_message(client.async, MessageType::async_status_response)).header.control;
}

inline task<int> ask_lock(RawClient& client, std::string key, std::uint32_t wait_ms = 0) {
  co_await send_message(client.async, {MessageType::async_lock, 1, wait_ms}, std::move(key));
  co_return (co_await next_message(client.async, MessageType::async_lock_response)).header.control;
}

inline task<int> release_lock(RawClient& client, std::uint32_t id = before_first_id) {
  co_await send_message(client.async, {MessageType::async_lock, 0, id});
  co_return (co_await next_message(client.async, MessageType::async_lock_response)).header.control;
}

inline task<> device_clear(RawClient& client, std::uint8_t features = 0) {
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

}  // namespace eyelevel::test
