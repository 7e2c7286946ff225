// SPDX-License-Identifier: Apache-2.0
#include "core/base/timeline.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

#include <atomic>
#include <exception>
#include <map>
#include <memory>
#include <optional>
#include <utility>

#include "core/base/error.hpp"

namespace eyelevel::base {
namespace asio = boost::asio;

Duration from_seconds(double seconds) {
  constexpr double most = 9.0e9;
  return Duration(static_cast<std::int64_t>(std::min(std::max(seconds, -most), most) * 1e9));
}

double to_seconds(Duration duration) { return static_cast<double>(duration.count()) * 1e-9; }

namespace {

// How the main task went. Shared with its completion, which may come after run() gave up.
struct MainTask {
  bool ended = false;
  std::exception_ptr error;

  void rethrow() const {
    if (error) std::rethrow_exception(error);
  }
};

std::shared_ptr<const MainTask> start(asio::io_context& loop, task<> main) {
  auto state = std::make_shared<MainTask>();
  asio::co_spawn(loop, std::move(main), [state](std::exception_ptr e) {
    state->ended = true;
    state->error = std::move(e);
  });
  return state;
}

[[noreturn]] void throw_aborted() {
  throw boost::system::system_error(boost::system::error_code(asio::error::operation_aborted));
}

class WallTimeline final : public Timeline {
 public:
  explicit WallTimeline(asio::io_context& loop) : loop_(loop), begin_(std::chrono::steady_clock::now()) {}

  Duration now() const override { return std::chrono::steady_clock::now() - begin_; }
  UtcTime utc() const override {
    return std::chrono::time_point_cast<std::chrono::milliseconds>(std::chrono::system_clock::now());
  }
  task<> sleep_until(Duration when) override {
    asio::steady_timer timer(loop_, begin_ + when);
    co_await timer.async_wait(asio::use_awaitable);
  }
  void run(task<> main) override {
    const auto state = start(loop_, std::move(main));
    loop_.restart();
    while (!state->ended && loop_.run_one() > 0) {
    }
    state->rethrow();
  }

 private:
  asio::io_context& loop_;
  std::chrono::steady_clock::time_point begin_;
};

class SimulatedTimeline final : public Timeline {
 public:
  SimulatedTimeline(asio::io_context& loop, UtcTime begin) : loop_(loop), begin_(begin) {}

  Duration now() const override { return now_; }
  UtcTime utc() const override { return begin_ + std::chrono::duration_cast<std::chrono::milliseconds>(now_); }

  task<> sleep_until(Duration when) override {
    if (when <= now_) {
      // A turn of the loop, so that a waiting of no length still lets others run.
      co_await asio::post(loop_, asio::use_awaitable);
      co_return;
    }
    // Sleepers due at the same moment wake in the order in which they began to wait.
    const auto place = sleepers_.try_emplace(Key{when, next_++}, loop_);
    boost::system::error_code ignored;  // the timer never expires: it is cancelled either by wake_next or by the caller
    co_await place.first->second.timer.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
    const bool due = place.first->second.due;
    sleepers_.erase(place.first);
    if (!due) throw_aborted();
  }

  void run(task<> main) override {
    const auto state = start(loop_, std::move(main));
    const std::optional<asio::executor_work_guard<asio::io_context::executor_type>> stay(loop_.get_executor());
    loop_.restart();
    while (!state->ended) {
      if (loop_.poll_one() > 0) continue;
      if (holds_.load() > 0) {
        loop_.run_one();
      } else if (!wake_next()) {
        throw Error(ErrorCode::defect, "simulated time: everything waits and nothing is due");
      }
    }
    state->rethrow();
  }

 protected:
  void hold() override { ++holds_; }
  void release() override {
    --holds_;
    asio::post(loop_, [] {});  // the loop may be asleep until this
  }

 private:
  struct Key {
    Duration when;
    std::uint64_t order;
    auto operator<=>(const Key&) const = default;
  };

  struct Sleeper {
    explicit Sleeper(asio::io_context& loop) : timer(loop, asio::steady_timer::time_point::max()) {}
    asio::steady_timer timer;
    bool due = false;
  };

  bool wake_next() {
    for (auto& [key, sleeper] : sleepers_) {
      if (sleeper.due) continue;  // woken, not yet run
      now_ = key.when;
      sleeper.due = true;
      sleeper.timer.cancel();
      return true;
    }
    return false;
  }

  asio::io_context& loop_;
  UtcTime begin_;
  Duration now_{0};
  std::uint64_t next_ = 0;
  std::map<Key, Sleeper> sleepers_;
  std::atomic<int> holds_{0};
};

}  // namespace

std::unique_ptr<Timeline> wall_timeline(asio::io_context& loop) { return std::make_unique<WallTimeline>(loop); }

std::unique_ptr<Timeline> simulated_timeline(asio::io_context& loop) {
  using namespace std::chrono;
  return simulated_timeline(loop, sys_days(year(2030) / January / 7) + hours(8));
}

std::unique_ptr<Timeline> simulated_timeline(asio::io_context& loop, UtcTime begin) {
  return std::make_unique<SimulatedTimeline>(loop, begin);
}

}  // namespace eyelevel::base
