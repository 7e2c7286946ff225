// SPDX-License-Identifier: Apache-2.0
// For tests: a port into which one simulated USBTMC instrument is plugged, in simulated time. The instrument answers
// "TEXT? n" with n letters, "BLOC? n" with a block of n bytes, "SLOW? n" after n milliseconds, a message without '?'
// not at all, and anything else with itself.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/gong.hpp"
#include "instruments/scpi/block.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/usbtmc/client.hpp"
#include "instruments/transport/usbtmc/simulated_pipe.hpp"
#include "tests/support/run_task.hpp"

namespace eyelevel::test {

// Letters for a text, any byte for a block.
inline std::string bytes_of(std::size_t size) {
  std::string bytes(size, '\0');
  for (std::size_t i = 0; i < size; ++i) bytes[i] = static_cast<char>(i * 7 + i / 251);
  return bytes;
}

class UsbInstrument final : public transport::Device {
 public:
  explicit UsbInstrument(base::Timeline& timeline) : timeline_(timeline) {}

  task<> execute(std::string_view message, transport::Reply& reply) override {
    messages.emplace_back(message);
    if (!message.ends_with('?') && message.find("? ") == std::string_view::npos) co_return;
    if (message.starts_with("TEXT? ")) {
      reply.bytes.assign(number(message), 'x');
    } else if (message.starts_with("BLOC? ")) {
      scpi::append_block(reply.bytes, bytes_of(number(message)));
    } else if (message == "*STB?") {
      reply.bytes = "4";
    } else {
      if (message.starts_with("SLOW? ")) co_await timeline_.sleep(std::chrono::milliseconds(number(message)));
      reply.bytes = "answer to " + std::string(message);
    }
  }
  task<> trigger() override {
    messages.emplace_back("(trigger)");
    co_return;
  }
  void clear() override { ++clears; }
  std::uint8_t serial_poll(bool message_available) override {
    const auto status = static_cast<std::uint8_t>((message_available ? 0x10U : 0U) | (rqs ? 0x44U : 0x04U));
    rqs = false;
    return status;
  }
  task<std::uint64_t> service_requested(std::uint64_t seen) override {
    while (requests <= seen) co_await asked_.wait();
    co_return requests;
  }
  void query_error(int number) override { errors.push_back(number); }
  void remote_local(transport::RemoteLocal what) override { control.push_back(what); }

  void ask_for_service() {
    rqs = true;
    ++requests;
    asked_.strike();
  }

  std::vector<std::string> messages;
  std::vector<int> errors;
  std::vector<transport::RemoteLocal> control;
  int clears = 0;
  bool rqs = false;
  std::uint64_t requests = 0;

 private:
  static std::size_t number(std::string_view message) {
    return static_cast<std::size_t>(std::stoul(std::string(message.substr(message.find(' ') + 1))));
  }
  base::Timeline& timeline_;
  base::Gong asked_;
};

struct SimulatedPort {
  explicit SimulatedPort(transport::usbtmc::ServerOptions wanted = {}) : options(std::move(wanted)) {}

  Simulated sim;
  std::shared_ptr<UsbInstrument> device = std::make_shared<UsbInstrument>(*sim.timeline);
  transport::usbtmc::ServerOptions options;
  std::shared_ptr<transport::usbtmc::UsbtmcServer> server;
  transport::usbtmc::Misbehaviour misbehaviour;  // of the instrument from the next opening on
  bool is_plugged_in = true;
  int openings = 0;

  transport::usbtmc::Misbehaviour& now() { return server->misbehaviour(); }

  transport::usbtmc::OpenPipe open() {
    return [this] { return open_once(*this); };
  }
  task<std::unique_ptr<transport::Session>> session(transport::usbtmc::Quirks quirks = {}) {
    auto link = co_await transport::usbtmc::connect(*sim.timeline, name, open(), quirks);
    co_return std::make_unique<transport::Session>(*sim.timeline, std::move(link));
  }

  static constexpr const char* name = "USB0::0x1234::0x5678::1::0::INSTR";

 private:
  static task<std::shared_ptr<transport::usbtmc::Pipe>> open_once(SimulatedPort& port) {
    if (!port.is_plugged_in)
      transport::fail(base::ErrorCode::no_connection, name, "no such instrument is plugged in", "plug it in");
    ++port.openings;
    // What was plugged in stays as its last program left it, unless it was unplugged.
    if (!port.server || port.server->is_gone()) {
      port.server = std::make_shared<transport::usbtmc::UsbtmcServer>(co_await boost::asio::this_coro::executor,
                                                                      port.device, port.options);
      port.server->misbehaviour() = port.misbehaviour;
    }
    co_return transport::usbtmc::simulated_pipe(port.server);
  }
};

// The answer, or the error's record.
struct Outcome {
  std::string answer;
  std::optional<base::ErrorRecord> error;
};

inline task<Outcome> query(transport::Session& session, std::string message, base::Duration within) {
  Outcome outcome;
  try {
    outcome.answer = co_await session.query(message, within);
  } catch (const base::Error& error) {
    outcome.error = error.record();
  }
  co_return outcome;
}

}  // namespace eyelevel::test
