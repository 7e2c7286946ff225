// SPDX-License-Identifier: Apache-2.0
// One coroutine waits until another rings; a ring before the wait is not lost. One waiter at a time, one thread. The
// timer inside never expires: it is only Asio's way of waking a coroutine, no clock is read.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/cancellation_type.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

#include "core/base/task.hpp"

namespace eyelevel::transport::detail {

class Bell {
 public:
  explicit Bell(const boost::asio::any_io_executor& executor)
      : timer_(executor, boost::asio::steady_timer::time_point::max()) {}

  // Throws system_error(operation_aborted) on cancellation.
  task<> wait() {
    if (!rung_) {
      boost::system::error_code woken;
      co_await timer_.async_wait(boost::asio::redirect_error(boost::asio::use_awaitable, woken));
      // A ring between the cancellation and the waking stays for the next who waits.
      const auto state = co_await boost::asio::this_coro::cancellation_state;
      if (!rung_ || state.cancelled() != boost::asio::cancellation_type::none)
        throw boost::system::system_error(boost::system::error_code(boost::asio::error::operation_aborted));
    }
    rung_ = false;
  }

  void ring() {
    rung_ = true;
    timer_.cancel();
  }

 private:
  boost::asio::steady_timer timer_;
  bool rung_ = false;
};

}  // namespace eyelevel::transport::detail
