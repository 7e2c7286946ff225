// SPDX-License-Identifier: Apache-2.0
#include "core/record/journal/store_thread.hpp"

#include <boost/asio/associated_executor.hpp>
#include <boost/asio/async_result.hpp>
#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <exception>
#include <future>

namespace eyelevel::record {
namespace asio = boost::asio;

struct StoreThread::Pool {
  asio::thread_pool thread{1};
};

StoreThread::StoreThread() : pool_(std::make_unique<Pool>()) {}
StoreThread::~StoreThread() { pool_->thread.join(); }

void StoreThread::settle() {
  std::promise<void> reached;
  asio::post(pool_->thread, [&reached] { reached.set_value(); });
  reached.get_future().wait();
}

namespace {

// Completes on the handler's own executor, which is kept busy until then.
task<> on_thread(asio::thread_pool& thread, std::function<void()> work, std::exception_ptr& failure) {
  auto begin = [&thread, &failure](auto handler, std::function<void()> job) {
    auto stay = asio::make_work_guard(asio::get_associated_executor(handler));
    asio::post(thread, [handler = std::move(handler), job = std::move(job), stay, &failure]() mutable {
      try {
        job();
      } catch (...) {
        failure = std::current_exception();
      }
      job = nullptr;
      asio::post(stay.get_executor(), std::move(handler));
    });
  };
  co_await asio::async_initiate<const asio::use_awaitable_t<>, void()>(begin, asio::use_awaitable, std::move(work));
}

}  // namespace

task<> StoreThread::done(base::Timeline& timeline, std::function<void()> work) {
  const base::Timeline::Hold hold(timeline);
  const bool throws = co_await asio::this_coro::throw_if_cancelled();
  co_await asio::this_coro::throw_if_cancelled(false);
  std::exception_ptr failure;
  co_await on_thread(pool_->thread, std::move(work), failure);
  co_await asio::this_coro::throw_if_cancelled(throws);
  if (failure) std::rethrow_exception(failure);
}

}  // namespace eyelevel::record
