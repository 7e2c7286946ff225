// SPDX-License-Identifier: Apache-2.0
// The border between the protocol (client.hpp, recovery.hpp) and whatever moves the bytes of one USBTMC interface: the
// computer's USB (usb_pipe.hpp), the system's own driver (system_pipe.hpp) or a simulated instrument
// (simulated_pipe.hpp). The contract for whoever implements it:
//  - one thread. At most one bulk_out, one bulk_in, one interrupt_in and one control may be under way at the same time,
//    and they do not wait for each other.
//  - a trouble is a return value, because the protocol has an answer to most of them; only cancellation is thrown
//    (system_error operation_aborted), after which nothing of that transfer is under way and the buffer may go.
//  - nothing here has a time limit: the caller cancels.
//  - close() may be called at any time; whatever is under way ends with `gone`.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>

#include "core/base/task.hpp"
#include "instruments/transport/usbtmc/codec.hpp"

namespace eyelevel::transport::usbtmc {

struct Endpoints {
  int interface = 0;
  std::uint8_t bulk_out = 0x01;
  std::uint8_t bulk_in = 0x81;
  std::uint8_t interrupt_in = 0;  // 0: there is none
  std::size_t bulk_in_packet_bytes = 512;
  std::size_t interrupt_packet_bytes = 2;
  bool is_usb488 = true;  // bInterfaceProtocol 1 (USB488 Table 3)
  // READ_STATUS_BYTE is answered whole, whatever the interrupt endpoint: someone else reads that.
  bool status_in_answer = false;
};

enum class Trouble {
  none,
  stall,     // the endpoint is halted, or the instrument does not know the request
  gone,      // unplugged, switched off, or closed
  overflow,  // the instrument sent more than a packet holds
  other,     // the cable or the host controller; `what` says what
};

struct Moved {
  std::size_t bytes = 0;
  Trouble trouble = Trouble::none;
  std::string what;  // the system's words for a trouble
};

class Pipe {
 public:
  Pipe() = default;
  Pipe(const Pipe&) = delete;
  Pipe& operator=(const Pipe&) = delete;
  virtual ~Pipe() = default;

  virtual const Endpoints& endpoints() const = 0;
  // One transfer; no zero-length packet behind it (USBTMC 3.2, rule 4).
  virtual task<Moved> bulk_out(std::string_view transfer) = 0;
  // Returns at a short packet (perhaps an empty one) or when `into` is full; its size is a multiple of the packet's.
  virtual task<Moved> bulk_in(std::span<char> into) = 0;
  virtual task<Moved> interrupt_in(std::span<char> into) = 0;
  // A device-to-host request; `into` is setup.length bytes.
  virtual task<Moved> control(const Setup& setup, std::span<char> into) = 0;
  virtual task<Moved> clear_halt(std::uint8_t endpoint) = 0;
  // The port reset. `gone`: the instrument came back as a new device, or not at all.
  virtual task<Moved> reset() = 0;
  virtual void close() noexcept = 0;
};

}  // namespace eyelevel::transport::usbtmc
