// SPDX-License-Identifier: Apache-2.0
// What only the memory transport does; what it shares with all others is in tests/contract.
#include "instruments/transport/memory/client.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

TEST_CASE("memory link: the answer's buffer circulates, large answers are not copied", "[transport]") {
  test::Simulated sim;
  std::vector<const void*> filled;
  auto device = std::make_shared<test::ScriptedDevice>(*sim.timeline, [&filled](std::string_view, Reply& reply) {
    reply.bytes.resize(100000, 'x');
    filled.push_back(reply.bytes.data());
    return base::Duration(0);
  });
  auto main = [](std::shared_ptr<Device> served, std::vector<const void*>& at_device) -> task<> {
    const auto link = co_await memory::connect(served, "MEMORY0::m::INSTR");
    Buffer answer;
    for (int i = 0; i < 4; ++i) {
      co_await link->write("?");
      co_await link->read(answer);
      CHECK(answer.size() == 100000);
      CHECK(static_cast<const void*>(answer.data()) == at_device.back());
    }
    // Two buffers in turn, none fresh after both sides have one.
    CHECK(at_device[3] == at_device[1]);
  };
  sim.run(main(device, filled));
}

TEST_CASE("memory link: what the device throws reaches the client as a lost connection with its cause", "[transport]") {
  test::Simulated sim;
  auto device = std::make_shared<test::ScriptedDevice>(
      *sim.timeline, [](std::string_view, Reply&) -> base::Duration { throw std::runtime_error("broken simulator"); });
  auto main = [](std::shared_ptr<Device> served) -> task<> {
    const auto link = co_await memory::connect(served, "MEMORY0::m::INSTR");
    co_await link->write("?");
    Buffer answer;
    try {
      co_await link->read(answer);
      FAIL("an answer came");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::connection_lost);
      CHECK(error.record().cause == "broken simulator");
    }
  };
  sim.run(main(device));
}

TEST_CASE("memory link: the device lives as long as a conversation, and closing ends what was under way",
          "[transport]") {
  test::Simulated sim;
  std::weak_ptr<Device> watched;
  auto main = [&watched](base::Timeline& timeline) -> task<> {
    auto device = std::make_shared<test::ScriptedDevice>(timeline, [](std::string_view, Reply&) { return 1h; });
    watched = device;
    const auto link = co_await memory::connect(std::move(device), "MEMORY0::m::INSTR");
    co_await link->write("wait");
    co_await timeline.sleep(1s);
    CHECK_FALSE(watched.expired());
    link->close();
    co_await timeline.sleep(1s);
    CHECK_THROWS_AS(co_await link->write("?"), base::Error);
  };
  sim.run(main(*sim.timeline));
  CHECK(sim.timeline->now() == 2s);
}
