// SPDX-License-Identifier: Apache-2.0
#include "core/base/gong.hpp"

#include <boost/asio/cancellation_type.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

#include <list>

namespace eyelevel::base {
namespace asio = boost::asio;

// The timers never expire: they are only Asio's way of waking a coroutine, no clock is read.
struct Gong::Waiting {
  struct One {
    asio::steady_timer timer;
    bool heard = false;
  };
  std::list<One*> all;
};

Gong::Gong() : waiting_(std::make_shared<Waiting>()) {}

Gong::~Gong() { strike(); }

task<> Gong::wait() {
  const auto waiting = waiting_;  // the gong may be gone when this wakes
  Waiting::One one{asio::steady_timer(co_await asio::this_coro::executor, asio::steady_timer::time_point::max())};
  // Taken out by whoever comes first, the stroke or the end of this coroutine.
  struct Place {
    std::list<Waiting::One*>& all;
    Waiting::One* one;
    ~Place() { all.remove(one); }
  };
  waiting->all.push_back(&one);
  const Place place{waiting->all, &one};
  boost::system::error_code woken;
  co_await one.timer.async_wait(asio::redirect_error(asio::use_awaitable, woken));
  // A stroke between the cancellation and the waking does not count: who goes on would take what nobody waits for.
  const auto state = co_await asio::this_coro::cancellation_state;
  const bool cancelled = state.cancelled() != asio::cancellation_type::none;
  if (cancelled || !one.heard)
    throw boost::system::system_error(boost::system::error_code(asio::error::operation_aborted));
}

void Gong::strike() noexcept {
  for (Waiting::One* one : waiting_->all) {
    one->heard = true;
    one->timer.cancel();
  }
}

}  // namespace eyelevel::base
