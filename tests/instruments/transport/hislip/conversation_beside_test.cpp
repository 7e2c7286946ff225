// SPDX-License-Identifier: Apache-2.0
// One client's session at the server, continued: status, service requests, locks, device clear (6.5, 6.7, 6.12
// to 6.14).
#include "instruments/transport/hislip/conversation.hpp"

#include "core/base/deadline.hpp"
#include "tests/instruments/transport/hislip/served_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::hislip;
using namespace eyelevel::test;
using namespace std::chrono_literals;

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

TEST_CASE("hislip session: a client that goes away while it waits for a lock never gets it", "[transport]") {
  with_server([](Bench bench) -> task<> {
    auto holder = co_await raw_client(bench.server.port());
    auto waiter = co_await raw_client(bench.server.port());
    CHECK(co_await ask_lock(holder, "") == 1);
    co_await send_message(waiter.async, {MessageType::async_lock, 1, 10'000});
    CHECK(co_await poll(waiter, before_first_id) == 0);  // its request is under way
    // Both at once: the lock is released before the one that waited for it has ended.
    waiter.async.close();
    holder.async.close();
    while (bench.server.clients() > 0) co_await bench.timeline.sleep(1ms);
    auto next = co_await raw_client(bench.server.port());
    CHECK(co_await ask_lock(next, "") == 1);
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
