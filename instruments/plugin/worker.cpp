// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/worker.hpp"

#include <boost/asio/associated_cancellation_slot.hpp>
#include <boost/asio/associated_executor.hpp>
#include <boost/asio/async_result.hpp>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <exception>
#include <future>
#include <memory>
#include <mutex>
#include <optional>
#include <thread>

namespace eyelevel::plugin {
namespace asio = boost::asio;

struct Worker::Loop {
  asio::io_context loop{1};
  std::unique_ptr<base::Timeline> timeline = base::wall_timeline(loop);
  std::optional<asio::executor_work_guard<asio::io_context::executor_type>> stay{loop.get_executor()};
  std::thread thread{[this] { loop.run(); }};
};

Worker::Worker() : loop_(std::make_unique<Loop>()) {}

Worker::~Worker() {
  loop_->stay.reset();
  loop_->thread.join();
}

base::Timeline& Worker::timeline() { return *loop_->timeline; }

namespace {

// What is under way, held by whoever may still touch it.
struct Job {
  std::function<task<>()> begin;
  asio::cancellation_signal stop;  // touched on the worker's thread only
  std::exception_ptr failure;
  // Held by the worker while it touches the caller's loop for the last time, which may end as soon as the caller goes
  // on.
  std::mutex last_touch;
};

// What brings the caller back on its own loop, which has work until then.
template <class Handler>
struct Return {
  asio::executor_work_guard<asio::associated_executor_t<Handler>> home;
  asio::cancellation_slot slot;
  Handler handler;
};

task<> until_done(asio::io_context& loop, std::shared_ptr<Job> job) {
  auto initiate = [&loop, job](auto handler) {
    auto slot = asio::get_associated_cancellation_slot(handler);
    if (slot.is_connected())
      slot.assign([&loop, job](asio::cancellation_type) {
        asio::post(loop, [job] { job->stop.emit(asio::cancellation_type::terminal); });
      });
    auto home = asio::make_work_guard(asio::get_associated_executor(handler));
    using Back = Return<decltype(handler)>;
    auto ended = [job, back = std::make_unique<Back>(Back{std::move(home), slot, std::move(handler)})](
                     std::exception_ptr failure) mutable {
      job->failure = std::move(failure);
      const std::scoped_lock touching(job->last_touch);
      const auto executor = back->home.get_executor();
      asio::post(executor, [back = std::move(back)]() mutable {
        back->slot.clear();
        std::move(back->handler)();
      });
    };
    asio::post(loop, [&loop, job, ended = std::move(ended)]() mutable {
      asio::co_spawn(loop, job->begin(), asio::bind_cancellation_slot(job->stop.slot(), std::move(ended)));
    });
  };
  co_await asio::async_initiate<const asio::use_awaitable_t<>, void()>(std::move(initiate), asio::use_awaitable);
}

}  // namespace

task<> Worker::done(base::Timeline& caller, std::function<task<>()> begin) {
  const base::Timeline::Hold hold(caller);
  const auto job = std::make_shared<Job>();
  job->begin = std::move(begin);
  co_await until_done(loop_->loop, job);
  const std::scoped_lock untouched(job->last_touch);
  if (job->failure) std::rethrow_exception(job->failure);
}

void Worker::done_blocking(std::function<task<>()> begin) {
  std::promise<void> ended;
  asio::post(loop_->loop, [&] {
    asio::co_spawn(loop_->loop, begin(), [&](std::exception_ptr failure) {
      if (failure)
        ended.set_exception(std::move(failure));
      else
        ended.set_value();
    });
  });
  ended.get_future().get();
}

}  // namespace eyelevel::plugin
