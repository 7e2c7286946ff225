// SPDX-License-Identifier: Apache-2.0
// Ways from other threads to a loop and back. An await here is cancelled at once: what runs on the other thread is then
// cancelled too, or its result dropped, and nothing is posted to a loop that may be gone.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/thread_pool.hpp>

#include <condition_variable>
#include <exception>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <utility>

#include "core/base/gong.hpp"
#include "core/base/task.hpp"

namespace eyelevel::transport::detail {

// What another thread will tell to a coroutine. Held by both sides.
class Finish {
 public:
  explicit Finish(boost::asio::any_io_executor loop) : loop_(std::move(loop)) {}

  // Coroutine's side. Throws on cancellation.
  task<> wait() {
    while (!told_) co_await gong_.wait();
  }
  // After it nothing is posted. False: the other thread has already told.
  bool abandon() {
    const std::scoped_lock lock(mutex_);
    abandoned_ = true;
    return !finished_;
  }
  void wait_for_other_thread() {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return finished_; });
  }

  // The other thread's side, once; `self` is this.
  static void tell(const std::shared_ptr<Finish>& self) {
    const std::scoped_lock lock(self->mutex_);
    self->finished_ = true;
    self->changed_.notify_all();
    if (self->abandoned_) return;
    boost::asio::post(self->loop_, [self] {
      self->told_ = true;
      self->gong_.strike();
    });
  }

 private:
  boost::asio::any_io_executor loop_;
  std::mutex mutex_;
  std::condition_variable changed_;
  bool finished_ = false;
  bool abandoned_ = false;
  bool told_ = false;  // the loop's own
  base::Gong gong_;
};

// Runs `work` on a thread for calls that block; its exception is rethrown here. When the await is cancelled the work
// goes on and its result is dropped.
template <class Result>
task<Result> on_worker(boost::asio::thread_pool& worker, std::function<Result()> work) {
  struct Job {
    std::function<Result()> work;
    std::optional<Result> result;
    std::exception_ptr error;
  };
  const auto job = std::make_shared<Job>();
  job->work = std::move(work);
  const auto finish = std::make_shared<Finish>(co_await boost::asio::this_coro::executor);
  struct Leave {
    Finish& finish;
    ~Leave() { finish.abandon(); }
  };
  boost::asio::post(worker, [job, finish] {
    try {
      job->result = job->work();
    } catch (...) {
      job->error = std::current_exception();
    }
    job->work = nullptr;  // what it owns ends here, not with a coroutine that may wait for its loop
    Finish::tell(finish);
  });
  const Leave leave{*finish};
  co_await finish->wait();
  // Taken out, so that the other thread is never the last to hold it: while that one let go of it, this one would still
  // read it, and the count of an exception's holders is the library's own.
  if (job->error) std::rethrow_exception(std::exchange(job->error, nullptr));
  co_return std::move(*job->result);
}

}  // namespace eyelevel::transport::detail
