// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/library/hand.hpp"

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

#include <condition_variable>
#include <deque>
#include <mutex>
#include <thread>
#include <utility>

namespace eyelevel::plugin::library {
namespace asio = boost::asio;

namespace {

struct Job {
  std::function<void()> work;
  std::function<void()> tell;  // called with the mutex held; empty when nobody waits any more
  bool has_ended = false;
};

}  // namespace

struct Hand::State {
  std::mutex mutex;
  std::condition_variable change;
  std::deque<std::shared_ptr<Job>> jobs;
  bool is_over = false;
  std::shared_ptr<Job> under_way;
  std::thread thread;

  void run() {
    std::unique_lock lock(mutex);
    for (;;) {
      change.wait(lock, [&] { return is_over || !jobs.empty(); });
      if (jobs.empty()) return;
      under_way = std::move(jobs.front());
      jobs.pop_front();
      if (under_way->tell) {
        lock.unlock();
        under_way->work();
        lock.lock();
      }
      under_way->has_ended = true;
      if (const auto tell = std::exchange(under_way->tell, nullptr)) tell();
      under_way.reset();
      change.notify_all();
    }
  }

  void add(std::shared_ptr<Job> job) {
    const std::scoped_lock lock(mutex);
    jobs.push_back(std::move(job));
    change.notify_all();
  }
};

Hand::Hand() : state_(std::make_shared<State>()) {
  state_->thread = std::thread([state = state_] { state->run(); });
}

Hand::~Hand() {
  std::unique_lock lock(state_->mutex);
  state_->is_over = true;
  state_->change.notify_all();
  const bool is_stuck = state_->under_way && !state_->under_way->tell;
  lock.unlock();
  if (is_stuck)
    state_->thread.detach();
  else
    state_->thread.join();
}

task<bool> Hand::done(base::Timeline& caller, base::Duration within, std::function<void()> work) {
  const base::Timeline::Hold hold(caller);
  const auto executor = co_await asio::this_coro::executor;
  const auto alarm = std::make_shared<asio::steady_timer>(executor, within);
  const auto job = std::make_shared<Job>();
  job->work = std::move(work);
  job->tell = [executor, alarm] { asio::post(executor, [alarm] { alarm->cancel(); }); };
  state_->add(job);
  boost::system::error_code woken;
  co_await alarm->async_wait(asio::redirect_error(asio::use_awaitable, woken));
  const std::scoped_lock lock(state_->mutex);  // afterwards the thread does not touch this loop any more
  job->tell = nullptr;
  if (!job->has_ended && woken) throw boost::system::system_error(woken);
  co_return job->has_ended;
}

bool Hand::done_blocking(base::Duration within, std::function<void()> work) {
  const auto job = std::make_shared<Job>();
  job->work = std::move(work);
  job->tell = [] {};
  state_->add(job);
  std::unique_lock lock(state_->mutex);
  const bool in_time = state_->change.wait_for(lock, within, [&] { return job->has_ended; });
  job->tell = nullptr;
  return in_time;
}

}  // namespace eyelevel::plugin::library
