// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/device.hpp"

#include <catch2/catch.hpp>

#include "core/base/deadline.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_device.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

TEST_CASE("device: what has no status model is triggered by *TRG, polled by MAV alone and never asks for service",
          "[transport]") {
  test::Simulated sim;
  test::ScriptedDevice device(*sim.timeline, [](std::string_view, transport::Reply&) { return base::Duration(0); });
  const auto body = [&]() -> task<> {
    co_await device.trigger();
    CHECK(device.messages == std::vector<std::string>{"*TRG"});
    CHECK(int{device.serial_poll(true)} == 16);  // IEEE 488.2, 11.2.1: MAV is bit 4
    CHECK(int{device.serial_poll(false)} == 0);
    CHECK(int{device.status_to_announce(true)} == 0x50);  // RQS: it is asked only when service is requested
    CHECK(int{device.status_to_announce(false)} == 0x40);
    const auto asked = co_await base::result_within(*sim.timeline, 1h, device.service_requested(0));
    CHECK_FALSE(asked);
  };
  sim.run(body());
}
