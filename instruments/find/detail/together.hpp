// SPDX-License-Identifier: Apache-2.0
// Any number of coroutines at once: ends when all have ended; the first that fails cancels the others and its error is
// rethrown. Cancellation reaches all of them.
#pragma once

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/deferred.hpp>
#include <boost/asio/experimental/parallel_group.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <exception>
#include <utility>
#include <vector>

#include "core/base/task.hpp"

namespace eyelevel::find::detail {

inline task<> together(std::vector<task<>> works) {
  namespace asio = boost::asio;
  const auto executor = co_await asio::this_coro::executor;
  using Spawned = decltype(asio::co_spawn(executor, std::declval<task<>>(), asio::deferred));
  std::vector<Spawned> spawned;
  spawned.reserve(works.size());
  for (auto& work : works) spawned.push_back(asio::co_spawn(executor, std::move(work), asio::deferred));
  if (spawned.empty()) co_return;
  const auto [order, errors] = co_await asio::experimental::make_parallel_group(std::move(spawned))
                                   .async_wait(asio::experimental::wait_for_one_error(), asio::use_awaitable);
  for (const std::size_t i : order)
    if (errors[i]) std::rethrow_exception(errors[i]);
}

}  // namespace eyelevel::find::detail
