// SPDX-License-Identifier: Apache-2.0
// The portmapper of the server (RFC 1833, 3): tells on UDP and TCP on which port a program is served. Answers NULL,
// GETPORT and DUMP; SET and UNSET are refused, since everything served is known from the start; CALLIT stays silent, as
// for a call that failed. Not a system service: it knows its own server only.
#pragma once

#include <boost/asio/any_io_executor.hpp>

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "instruments/transport/vxi11/codec_rpc.hpp"
#include "instruments/transport/vxi11/listener.hpp"

namespace eyelevel::transport::vxi11 {

// The reply to one call, appended without record mark; false: nothing is to be answered.
bool answer_portmapper(std::string_view record, const std::vector<Mapping>& mappings, std::string& reply);

class Portmapper {
 public:
  // Port 0: one that is free both on TCP and UDP. Throws TransportError(no_connection).
  Portmapper(const boost::asio::any_io_executor& executor, const boost::asio::ip::address& address, std::uint16_t port,
             std::vector<Mapping> mappings);
  Portmapper(const Portmapper&) = delete;
  Portmapper& operator=(const Portmapper&) = delete;
  ~Portmapper();

  std::uint16_t port() const;
  void stop() noexcept;

 private:
  struct State;
  std::shared_ptr<State> state_;
  std::unique_ptr<Listener> listener_;
};

}  // namespace eyelevel::transport::vxi11
