// SPDX-License-Identifier: Apache-2.0
// The client's end of an interrupt channel (VXI-11, DEVICE_INTR): a TCP port to which the instrument connects and where
// it calls device_intr_srq without waiting for a reply. What is malformed there is let pass: a request whose handle is
// unknown counts as one, anything else is passed over. Whoever is told of a request polls the instrument.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/ip/address.hpp>

#include <cstdint>
#include <memory>

#include "core/base/task.hpp"
#include "instruments/transport/vxi11/listener.hpp"

namespace eyelevel::transport::vxi11 {

class RequestListener {
 public:
  // Throws TransportError(no_connection) when no port can be had.
  RequestListener(const boost::asio::any_io_executor& executor, const boost::asio::ip::address& address);
  RequestListener(const RequestListener&) = delete;
  RequestListener& operator=(const RequestListener&) = delete;
  ~RequestListener() { stop(); }

  std::uint16_t port() const { return listener_.port(); }
  // True at once if a request came since the last call; false when stopped.
  task<bool> wait();
  void stop() noexcept;

 private:
  struct State;
  std::shared_ptr<State> state_;
  Listener listener_;
};

}  // namespace eyelevel::transport::vxi11
