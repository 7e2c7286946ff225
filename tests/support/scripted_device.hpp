// SPDX-License-Identifier: Apache-2.0
// A device for tests of transports: what it does is a function of the message, after a wait of Timeline time.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "instruments/transport/device.hpp"

namespace eyelevel::test {

class ScriptedDevice final : public transport::Device {
 public:
  using Script = std::function<base::Duration(std::string_view message, transport::Reply& reply)>;

  ScriptedDevice(base::Timeline& timeline, Script script) : timeline_(timeline), script_(std::move(script)) {}

  task<> execute(std::string_view message, transport::Reply& reply) override {
    messages.emplace_back(message);
    const base::Duration wait = script_(message, reply);
    if (wait > base::Duration(0)) co_await timeline_.sleep(wait);
  }
  void clear() override { ++clears; }

  std::vector<std::string> messages;
  int clears = 0;

 private:
  base::Timeline& timeline_;
  Script script_;
};

}  // namespace eyelevel::test
