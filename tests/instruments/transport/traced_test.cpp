// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/traced.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "instruments/transport/memory/client.hpp"
#include "instruments/transport/session.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace std::chrono_literals;

TEST_CASE("traced link: what goes over it is told in order, with its time, late and partial answers too",
          "[transport]") {
  test::Simulated sim;
  auto device = std::make_shared<test::ScriptedDevice>(*sim.timeline, [](std::string_view message, Reply& reply) {
    reply.bytes = "answer to " + std::string(message);
    reply.terminated = message != "half?";
    return message == "slow?" ? base::Duration(2s) : base::Duration(0);
  });
  std::vector<std::string> lines;
  const auto body = [&]() -> task<> {
    Session session(*sim.timeline, traced(co_await memory::connect(device, "MEMORY0::m::INSTR"), *sim.timeline,
                                          [&](const Traced& one) {
                                            lines.push_back(fmt::format("{:.1f}", base::to_seconds(one.at)) + " " +
                                                            std::string(one.what) + " " + std::string(one.bytes));
                                          }));
    CHECK(session.resource_name() == "MEMORY0::m::INSTR");
    co_await session.query("slow?", 5s);
    try {
      co_await session.query("half?", 1s);
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::time_out);
    }
    co_await session.write("go", 1s);
    co_await session.trigger(1s);
    co_await session.status_byte(1s);
    co_await session.lock("", 1s);
    co_await session.unlock(1s);
    session.close();
  };
  sim.run(body());
  CHECK(lines == std::vector<std::string>{"0.0 sent slow?", "2.0 came answer to slow?", "2.0 sent half?",
                                          "3.0 came in part answer to half?", "3.0 cleared ", "3.0 sent go",
                                          "3.0 triggered ", "3.0 polled 16", "3.0 locked ", "3.0 unlocked ",
                                          "3.0 closed "});
}
