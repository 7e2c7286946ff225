// SPDX-License-Identifier: Apache-2.0
// The instrument's half of USBTMC 1.0 and USB488 1.0: one interface, its endpoints and class requests, over a Device.
// No I/O: whoever carries the packets (simulated_pipe.hpp, a mocked port in tests) asks what each transfer is answered
// with, and asks again when `changed` strikes. Keeps the standards strictly; what a bad instrument does is in
// Misbehaviour. One thread, that of the executor. Errors of the exchange go to the Device (IEEE 488.2, 6.5.7).
#pragma once

#include <boost/asio/any_io_executor.hpp>

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/gong.hpp"
#include "instruments/transport/device.hpp"
#include "instruments/transport/usbtmc/codec.hpp"
#include "instruments/transport/usbtmc/pipe.hpp"

namespace eyelevel::transport::usbtmc {

// What a transfer or request is answered with on the bus: taken, not yet, never.
enum class Handshake { ack, nak, stall };

struct ControlReply {
  Handshake handshake = Handshake::ack;
  std::string bytes;
};

// A Bulk-IN transfer on its way.
struct InTransfer {
  std::string bytes;
  bool ends_short = true;             // an empty packet follows when the bytes fill their last packet
  std::vector<std::size_t> short_at;  // short packets end at these offsets, too (0: an empty packet comes first)
  std::size_t sent = 0;
  std::size_t packet_begin = 0;  // offset from which full packets are counted
};

// Each is asked before the rules are; empty or absent: the rules hold.
struct Misbehaviour {
  std::function<void(InTransfer&)> in_transfer;  // what will be sent
  std::function<std::optional<Handshake>(std::string_view transfer)> bulk_out;
  std::function<std::optional<ControlReply>(Request, const Setup&)> control;
  std::function<bool()> halts_bulk_in;                 // at each read
  std::function<void(std::string&)> interrupt_packet;  // emptied: not sent
  std::function<Trouble()> clear_halt;
  std::function<Trouble()> reset;
};

struct ServerOptions {
  Endpoints endpoints{.interrupt_in = 0x82};
  Capabilities capabilities{.bcd_usbtmc = 0x0100,
                            .bcd_usb488 = 0x0100,
                            .indicator_pulse = true,
                            .trigger = true,
                            .remote_local = true,
                            .is_488_2 = true,
                            .dt1 = true,
                            .rl1 = true,
                            .sr1 = true,
                            .understands_scpi = true};
  std::size_t most_message_bytes = std::size_t{128} << 20U;
  std::uint32_t most_in_bytes = std::uint32_t{1} << 20U;  // in one Bulk-IN transfer, however many are asked for
};

class UsbtmcServer {
 public:
  UsbtmcServer(const boost::asio::any_io_executor& executor, std::shared_ptr<Device> device, ServerOptions options);
  UsbtmcServer(const UsbtmcServer&) = delete;
  UsbtmcServer& operator=(const UsbtmcServer&) = delete;
  ~UsbtmcServer();

  const Endpoints& endpoints() const;
  Misbehaviour& misbehaviour();
  base::Gong& changed();  // strikes when an answer of the calls below may have become another

  Handshake bulk_out(std::string_view transfer);  // one whole transfer
  struct Taken {
    std::size_t bytes = 0;
    Handshake handshake = Handshake::nak;  // ack: this read has ended; nak: it goes on
  };
  Taken bulk_in(std::span<char> into);
  std::optional<std::string> interrupt_in();
  ControlReply control(const Setup& setup);
  Trouble clear_halt(std::uint8_t endpoint);
  Trouble reset();
  void unplug();
  bool is_gone() const;

 private:
  struct State;
  std::shared_ptr<State> state_;
};

}  // namespace eyelevel::transport::usbtmc
