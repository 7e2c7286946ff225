// SPDX-License-Identifier: Apache-2.0
#include "core/base/deadline.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/deferred.hpp>
#include <boost/asio/experimental/parallel_group.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace eyelevel::base {
namespace asio = boost::asio;

task<bool> finished_within(Timeline& timeline, Duration limit, task<> work) {
  const auto executor = co_await asio::this_coro::executor;
  const Duration due = timeline.now() + limit;
  // wait_for_one: the first to end, however it ends, cancels the other, and both have ended when this returns.
  const auto [order, work_error, alarm_error] =
      co_await asio::experimental::make_parallel_group(
          asio::co_spawn(executor, std::move(work), asio::deferred),
          asio::co_spawn(executor, timeline.sleep_until(due), asio::deferred))
          .async_wait(asio::experimental::wait_for_one(), asio::use_awaitable);
  // Work that ended well just as the alarm rang counts as done.
  if (!work_error) co_return true;
  if (order[0] == 1 && !alarm_error) co_return false;
  std::rethrow_exception(work_error);
}

}  // namespace eyelevel::base
