// SPDX-License-Identifier: Apache-2.0
// The message exchange of a link by itself, in simulated time (IEEE 488.2, chapter 6).
#include "instruments/transport/vxi11/exchange.hpp"

#include <catch2/catch.hpp>

#include <functional>

#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::vxi11;
using namespace std::chrono_literals;

namespace {

constexpr std::size_t most_bytes = 100;
using Body = std::function<task<>(base::Timeline&, test::ScriptedDevice&, Exchange&)>;

void with_exchange(const test::ScriptedDevice::Script& script, const Body& body) {
  test::Simulated sim;
  const auto device = std::make_shared<test::ScriptedDevice>(*sim.timeline, script);
  const auto exchange = std::make_shared<Exchange>(sim.loop.get_executor(), device, most_bytes);
  sim.run(body(*sim.timeline, *device, *exchange));
}

base::Duration echo(std::string_view message, Reply& reply) {
  reply.bytes = message;
  if (message == "open") reply.terminated = false;
  if (message == "last") {
    reply.terminated = false;
    reply.close_after = true;
  }
  return message == "slow" ? base::Duration(1s) : base::Duration(0);
}

}  // namespace

TEST_CASE("vxi11 exchange: an answer is read in pieces, the last of which ends the message", "[transport]") {
  with_exchange(echo, [](base::Timeline& timeline, test::ScriptedDevice&, Exchange& exchange) -> task<> {
    CHECK(exchange.take("ab", false) == Exchange::Taken::all);
    CHECK(exchange.take("cd", true) == Exchange::Taken::all);
    co_await timeline.sleep(0s);
    REQUIRE(exchange.has_output());
    CHECK(exchange.peek(2, std::nullopt).bytes == "ab");
    CHECK_FALSE(exchange.peek(2, std::nullopt).ends_message);
    exchange.took(2);
    CHECK(exchange.peek(2, 'c').bytes == "c");
    CHECK(exchange.peek(2, 'c').ends_at_char);
    CHECK(exchange.peek(3, std::nullopt).bytes == "cd\n");
    CHECK(exchange.peek(3, std::nullopt).ends_message);
    exchange.took(3);
    CHECK_FALSE(exchange.has_output());
    CHECK(exchange.is_idle());
  });
}

TEST_CASE("vxi11 exchange: an answer without end never ends, one before closing wants the connection closed",
          "[transport]") {
  with_exchange(echo, [](base::Timeline& timeline, test::ScriptedDevice&, Exchange& exchange) -> task<> {
    exchange.take("open", true);
    co_await timeline.sleep(0s);
    CHECK_FALSE(exchange.peek(100, std::nullopt).ends_message);
    exchange.clear();
    exchange.take("last", true);
    co_await timeline.sleep(0s);
    CHECK_FALSE(exchange.wants_close());
    CHECK(exchange.peek(100, std::nullopt).bytes == "last");
    exchange.took(4);
    CHECK(exchange.wants_close());
  });
}

TEST_CASE("vxi11 exchange: clearing while something is executed forgets it, and the next message is not kept waiting",
          "[transport]") {
  with_exchange(echo, [](base::Timeline& timeline, test::ScriptedDevice& device, Exchange& exchange) -> task<> {
    exchange.take("slow", true);
    exchange.take("behind", true);
    CHECK_FALSE(exchange.is_idle());
    exchange.clear();
    CHECK(exchange.is_idle());
    CHECK(device.clears == 1);
    const auto begun = timeline.now();
    exchange.take("next", true);
    while (!exchange.has_output()) co_await exchange.changed.wait();
    CHECK(exchange.peek(100, std::nullopt).bytes == "next\n");
    CHECK(timeline.now() == begun);
    co_await timeline.sleep(2s);
    CHECK(exchange.peek(100, std::nullopt).bytes == "next\n");
    CHECK(device.messages == std::vector<std::string>{"slow", "next"});
  });
}

TEST_CASE("vxi11 exchange: a message beyond the limit is refused in whole, many that wait say that there is no room",
          "[transport]") {
  with_exchange(echo, [](base::Timeline&, test::ScriptedDevice& device, Exchange& exchange) -> task<> {
    CHECK(exchange.take(std::string(60, 'x'), false) == Exchange::Taken::all);
    CHECK(exchange.take(std::string(60, 'x'), true) == Exchange::Taken::too_long);
    CHECK(exchange.take("slow", true) == Exchange::Taken::all);
    CHECK(exchange.has_room());
    CHECK(exchange.take(std::string(100, 'y'), true) == Exchange::Taken::all);
    CHECK_FALSE(exchange.has_room());
    exchange.stop();
    CHECK(device.messages == std::vector<std::string>{"slow"});
    co_return;
  });
}

TEST_CASE("vxi11 exchange: a block that says it is larger than the limit ends with END, and what follows is right",
          "[transport]") {
  with_exchange(echo, [](base::Timeline& timeline, test::ScriptedDevice& device, Exchange& exchange) -> task<> {
    exchange.take("A #9999999999\nab", true);
    exchange.take("b", true);
    co_await timeline.sleep(0s);
    CHECK(device.messages == std::vector<std::string>{"A #9999999999\nab", "b"});
  });
}
