// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyeleveld/supervisor.hpp"

#include <fmt/format.h>
#include <systemd/sd-daemon.h>

#include <chrono>
#include <cstdint>

namespace eyelevel::program {

namespace {

// What it returns is whether anybody listens; nobody must.
void tell(const std::string& state) { ::sd_notify(0, state.c_str()); }

}  // namespace

void tell_ready(const std::string& url) { tell(fmt::format("READY=1\nSTATUS=serves at {}", url)); }
void tell_reloading() { tell("RELOADING=1\nSTATUS=reads its bench files anew"); }
void tell_stopping() { tell("STOPPING=1\nSTATUS=closes what runs and makes the instruments safe"); }

task<> tell_alive(base::Timeline& timeline) {
  std::uint64_t within_us = 0;
  if (::sd_watchdog_enabled(0, &within_us) <= 0) co_return;
  for (;;) {
    tell("WATCHDOG=1");
    co_await timeline.sleep(std::chrono::microseconds(within_us / 2));
  }
}

}  // namespace eyelevel::program
