// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/device.hpp"

namespace eyelevel::transport {

task<> Device::trigger() {
  Reply reply;
  co_await execute("*TRG", reply);
}

std::uint8_t Device::serial_poll(bool message_available) { return message_available ? 0x10 : 0; }

std::uint8_t Device::status_to_announce(bool message_available) { return message_available ? 0x50 : 0x40; }

task<std::uint64_t> Device::service_requested(std::uint64_t seen) {
  co_await never_.wait();
  co_return seen;
}

}  // namespace eyelevel::transport
