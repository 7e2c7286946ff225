// SPDX-License-Identifier: Apache-2.0
// The server's end of an interrupt channel: connected back to the client, carries device_intr_srq calls, which are
// never answered (VXI-11, create_intr_chan). A client that does not read costs one waiting call for each link, no more.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/ip/tcp.hpp>

#include <cstdint>
#include <memory>
#include <set>
#include <string>

#include "core/base/task.hpp"
#include "instruments/transport/detail/bell.hpp"

namespace eyelevel::transport::vxi11 {

class RequestSender : public std::enable_shared_from_this<RequestSender> {
 public:
  explicit RequestSender(const boost::asio::any_io_executor& executor) : socket_(executor), bell_(executor) {}

  // False when nobody is there. `program` and `version` are the client's own.
  task<bool> connect(boost::asio::ip::tcp::endpoint to, std::uint32_t program, std::uint32_t version);
  void post(const std::string& handle);
  bool is_open() const { return socket_.is_open(); }
  void close() noexcept;

 private:
  static task<> send(std::shared_ptr<RequestSender> self);
  static task<> watch(std::shared_ptr<RequestSender> self);

  boost::asio::ip::tcp::socket socket_;
  detail::Bell bell_;
  std::set<std::string> waiting_;
  std::uint32_t program_ = 0, version_ = 0, xid_ = 0;
};

}  // namespace eyelevel::transport::vxi11
