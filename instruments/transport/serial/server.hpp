// SPDX-License-Identifier: Apache-2.0
// The server of the serial transport: an instrument at the end of a pseudo-terminal, reached by a name of a place that
// stays the same when the terminal is made anew (as a USB adapter that is pulled and plugged in again). Nobody tells it
// that a client went away: a serial line does not say. Runs on the given executor's thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>

#include <filesystem>
#include <memory>
#include <string>

#include "instruments/transport/device.hpp"

namespace eyelevel::transport::serial {

class SerialServer {
 public:
  // `place` becomes a symbolic link to the terminal; it must not exist. Throws TransportError(no_connection).
  SerialServer(const boost::asio::any_io_executor& executor, std::shared_ptr<Device> device,
               std::filesystem::path place);
  SerialServer(const SerialServer&) = delete;
  SerialServer& operator=(const SerialServer&) = delete;
  ~SerialServer();

  std::string resource_name() const;  // ASRL<place>::INSTR
  void stop() noexcept;

 private:
  struct State;
  std::shared_ptr<State> state_;
};

}  // namespace eyelevel::transport::serial
