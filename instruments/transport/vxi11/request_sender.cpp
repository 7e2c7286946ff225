// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/request_sender.hpp"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include <array>

#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/detail/line_conversation.hpp"
#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/codec_rpc.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
namespace {

void loudly(const std::exception_ptr& error) {
  if (error && !detail::is_cancellation(error)) std::rethrow_exception(error);
}

}  // namespace

task<bool> RequestSender::connect(asio::ip::tcp::endpoint to, std::uint32_t program, std::uint32_t version) {
  program_ = program;
  version_ = version;
  boost::system::error_code error;
  co_await socket_.async_connect(to, asio::redirect_error(asio::use_awaitable, error));
  if (error) {
    close();
    co_return false;
  }
  boost::system::error_code only_speed;
  socket_.set_option(asio::ip::tcp::no_delay(true), only_speed);
  asio::co_spawn(socket_.get_executor(), send(shared_from_this()), loudly);
  asio::co_spawn(socket_.get_executor(), watch(shared_from_this()), loudly);
  co_return true;
}

void RequestSender::post(const std::string& handle) {
  waiting_.insert(handle);
  bell_.ring();
}

void RequestSender::close() noexcept {
  boost::system::error_code closed;  // nothing can be done about a failing close
  socket_.close(closed);
  bell_.ring();
}

task<> RequestSender::send(std::shared_ptr<RequestSender> self) {
  std::string record;
  while (self->is_open()) {
    if (self->waiting_.empty()) {
      co_await self->bell_.wait();
      continue;
    }
    begin_record(record);
    append_call(record, {.xid = ++self->xid_,
                         .program = self->program_,
                         .version = self->version_,
                         .procedure = static_cast<std::uint32_t>(Procedure::device_intr_srq)});
    append_handle(record, *self->waiting_.begin());
    end_record(record);
    self->waiting_.erase(self->waiting_.begin());
    const auto [error, bytes] =
        co_await asio::async_write(self->socket_, asio::buffer(record), asio::as_tuple(asio::use_awaitable));
    if (error) self->close();
  }
}

// Whatever the client says here is passed over; that it closes is seen.
task<> RequestSender::watch(std::shared_ptr<RequestSender> self) {
  std::array<char, 256> passed;
  while (self->is_open()) {
    const auto [error, bytes] =
        co_await self->socket_.async_read_some(asio::buffer(passed), asio::as_tuple(asio::use_awaitable));
    if (error) self->close();
  }
}

}  // namespace eyelevel::transport::vxi11
