// SPDX-License-Identifier: Apache-2.0
// The server half of the contract: what a simulated instrument offers to whatever carries its messages. Several clients
// share one device; each has its own conversation, and their program messages may be under way at the same time.
//  - execute() takes one whole program message without terminator and appends one response message, without terminator,
//    to reply.bytes; nothing appended means nothing is sent. It may wait on the Timeline.
//  - cancellation: a client that went away or cleared its link cancels its own execute(); the device stays usable.
//  - clear() is the device clear (IEEE 488.2, 5.8): no setting and no status register changes.
//  - the server owns the Reply and reuses it; it keeps the device alive while anything is under way.
// The rest is for carriers that pass on more than messages; the defaults suit a device without a status model.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>

#include "core/base/task.hpp"
#include "instruments/transport/access_lock.hpp"
#include "instruments/transport/link.hpp"

namespace eyelevel::transport {

struct Reply {
  std::string bytes;
  // What only a misbehaving instrument does:
  bool terminated = true;    // false: the end of the message is never sent
  bool close_after = false;  // the connection is closed after these bytes
  // And what of it only a carrier on the network can show:
  bool endless = false;            // the bytes are sent again and again; terminated is false
  bool wrong_id = false;           // HiSLIP: the message id, VXI-11: the transaction id is another one
  bool wrong_type = false;         // the carrier's message is of another type than an answer
  std::function<task<>()> pace{};  // waited for before every byte, which is sent alone

  void reset() {
    bytes.clear();
    terminated = true;
    close_after = endless = wrong_id = wrong_type = false;
    pace = nullptr;
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

  // Group execute trigger; the same as *TRG (IEEE 488.2, 10.37).
  virtual task<> trigger();
  // A serial poll (IEEE 488.2, 11.3): the status byte with RQS in bit 6, which the poll clears. `message_available`
  // says whether an answer waits for the client that polls; it is bit 4.
  virtual std::uint8_t serial_poll(bool message_available);
  // The same without clearing anything, for carriers that tell the status with a service request.
  virtual std::uint8_t status_byte(bool message_available) { return message_available ? 0x10 : 0; }
  // What a serial poll would give now; nothing is cleared. It goes out with a service request; without RQS none does.
  virtual std::uint8_t status_to_announce(bool message_available);
  // An answer begins to wait in a server's output queue: for the device a possible reason for service.
  virtual void answer_waits() {}
  // How often service was requested since the device was made.
  virtual std::uint64_t service_requests() { return 0; }
  // Returns once that is more than `seen`; gives it.
  virtual task<std::uint64_t> service_requested(std::uint64_t seen);
  // A fault of the message exchange that only the carrier sees: -410 INTERRUPTED, -420 UNTERMINATED, -430 DEADLOCKED.
  virtual void query_error(int) {}
  virtual void remote_local(RemoteLocal) {}
  // False: whoever connects by HiSLIP or VXI-11 is never greeted.
  virtual bool greets() { return true; }
  // Where the control connection of its raw socket is served; 0: nowhere. For SYSTem:COMMunicate:TCPip:CONTrol?
  virtual void control_is_at(std::uint16_t) {}

  AccessLock access;

 private:
  base::Gong never_;
};

}  // namespace eyelevel::transport
