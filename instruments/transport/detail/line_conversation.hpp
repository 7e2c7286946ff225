// SPDX-License-Identifier: Apache-2.0
// The server's side of one client whose messages end with NL: a TCP socket or a serial line. One program message after
// another is taken, executed and answered; while one takes its time, a client that goes away cancels it. Its coroutine
// and what it executes own it. One thread.
#pragma once

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/socket_base.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

#include <array>
#include <cstddef>
#include <exception>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/base/task.hpp"
#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/detail/send_all.hpp"
#include "instruments/transport/device.hpp"
#include "instruments/transport/socket/codec.hpp"

namespace eyelevel::transport::detail {

template <class Stream>
class LineConversation : public std::enable_shared_from_this<LineConversation<Stream>> {
 public:
  LineConversation(Stream stream, std::shared_ptr<Device> device, std::size_t most)
      : stream_(std::move(stream)),
        device_(std::move(device)),
        most_(most),
        framer_(socket::Direction::program, most),
        chunk_(std::size_t{64} << 10U) {}

  // Until the client is gone.
  static task<> run(std::shared_ptr<LineConversation> self) {
    while (co_await self->next_message()) {
      if (!co_await self->execute()) co_return;
      if (!co_await self->answer()) co_return;
    }
  }

  // The device clear of IEEE 488.2, 5.8, as far as one client goes: what came and was not executed is forgotten, what
  // is executed is cancelled and not answered.
  void clear() {
    inbox_.clear();
    framer_.reset();
    cleared_ = !executed_;
    if (cleared_) stop_.emit(boost::asio::cancellation_type::terminal);
  }

 private:
  // The next program message into message_; false when the client is gone or sends what can never end.
  task<bool> next_message() {
    for (;;) {
      const auto found = framer_.scan(inbox_);
      if (!found.fault.empty()) co_return false;
      if (found.complete) {
        message_.assign(inbox_, 0, found.message_bytes);
        inbox_.erase(0, found.consumed);
        framer_.reset();
        co_return true;
      }
      boost::system::error_code gone;
      const std::size_t count = co_await stream_.async_read_some(
          boost::asio::buffer(chunk_), boost::asio::redirect_error(boost::asio::use_awaitable, gone));
      if (gone) co_return false;
      inbox_.append(chunk_.data(), count);
    }
  }

  // False: the client went away meanwhile and the execution was cancelled. Most messages are executed at once; only
  // when one takes its time is the stream watched for a client that closes.
  task<bool> execute() {
    // The slot is the last execution's until its coroutine has ended, a turn of the loop after what it did.
    while (running_) co_await boost::asio::post(stream_.get_executor(), boost::asio::use_awaitable);
    reply_.reset();
    executed_ = false;
    running_ = true;
    boost::asio::co_spawn(stream_.get_executor(), run_device(this->shared_from_this()),
                          boost::asio::bind_cancellation_slot(
                              stop_.slot(), [self = this->shared_from_this()](const std::exception_ptr& error) {
                                self->running_ = false;
                                // Anything but an end by cancellation is a defect of the device: it ends the loop's
                                // run() loudly.
                                if (error && !is_cancellation(error)) std::rethrow_exception(error);
                              }));
    while (!executed_) {
      boost::system::error_code woken;
      watching_ = true;
      co_await stream_.async_wait(Stream::wait_read, boost::asio::redirect_error(boost::asio::use_awaitable, woken));
      watching_ = false;
      if (executed_) break;
      if (woken || !take_ahead()) {
        stop_.emit(boost::asio::cancellation_type::terminal);
        co_return false;
      }
    }
    if (std::exchange(cleared_, false)) reply_.reset();
    co_return true;
  }

  // However the execution ends.
  struct Executed {
    LineConversation& conversation;
    ~Executed() {
      conversation.executed_ = true;
      if (conversation.watching_) conversation.stream_.cancel();
    }
  };

  static task<> run_device(std::shared_ptr<LineConversation> self) {
    const Executed executed{*self};
    co_await self->device_->execute(self->message_, self->reply_);
  }

  // Further messages that came while one is executed; false when the client has closed.
  bool take_ahead() {
    boost::system::error_code gone;
    boost::asio::socket_base::bytes_readable readable;
    stream_.io_control(readable, gone);
    if (gone || readable.get() == 0 || inbox_.size() > most_) return false;
    const std::size_t count = stream_.read_some(boost::asio::buffer(chunk_), gone);
    if (gone) return false;
    inbox_.append(chunk_.data(), count);
    return true;
  }

  task<bool> answer() {
    if (!reply_.bytes.empty()) {
      if (reply_.terminated) reply_.bytes += '\n';
      do {
        if (!co_await send()) co_return false;
      } while (reply_.endless);
    }
    co_return !reply_.close_after;
  }

  task<bool> send() {
    boost::system::error_code gone;
    for (std::string_view rest = reply_.bytes; !rest.empty() && !gone;) {
      if (reply_.pace) co_await reply_.pace();
      const auto part = rest.substr(0, reply_.pace ? 1 : rest.size());
      rest.remove_prefix(part.size());
      gone = co_await send_all(stream_, std::array{boost::asio::const_buffer(part.data(), part.size())});
    }
    co_return !gone;
  }

  Stream stream_;
  std::shared_ptr<Device> device_;
  std::size_t most_;
  socket::Framer framer_;
  std::vector<char> chunk_;
  std::string inbox_;
  std::string message_;
  Reply reply_;
  boost::asio::cancellation_signal stop_;  // of what is executed
  bool executed_ = true;                   // its answer is complete
  bool running_ = false;                   // its coroutine has not ended
  bool watching_ = false;
  bool cleared_ = false;  // what is executed must not be answered
};

}  // namespace eyelevel::transport::detail
