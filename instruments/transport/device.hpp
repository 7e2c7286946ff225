// SPDX-License-Identifier: Apache-2.0
// The server half of the contract: what a simulated instrument offers to whatever carries its messages. Several clients
// share one device; each has its own conversation, and their program messages may be under way at the same time.
//  - execute() takes one whole program message without terminator and appends one response message, without terminator,
//    to reply.bytes; nothing appended means nothing is sent. It may wait on the Timeline.
//  - cancellation: a client that went away or cleared its link cancels its own execute(); the device stays usable.
//  - clear() is the device clear (IEEE 488.2, 5.8): no setting and no status register changes.
//  - the server owns the Reply and reuses it; it keeps the device alive while anything is under way.
#pragma once

#include <string>
#include <string_view>

#include "core/base/task.hpp"

namespace eyelevel::transport {

struct Reply {
  std::string bytes;
  // What only a misbehaving instrument does:
  bool terminated = true;    // false: the end of the message is never sent
  bool close_after = false;  // the connection is closed after these bytes

  void reset() {
    bytes.clear();
    terminated = true;
    close_after = false;
  }
};

class Device {
 public:
  Device() = default;
  Device(const Device&) = delete;
  Device& operator=(const Device&) = delete;
  virtual ~Device() = default;

  virtual task<> execute(std::string_view message, Reply& reply) = 0;
  virtual void clear() = 0;
};

}  // namespace eyelevel::transport
