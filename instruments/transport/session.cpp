// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/session.hpp"

#include <fmt/format.h>

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <list>
#include <utility>

#include "core/base/deadline.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::transport {
namespace asio = boost::asio;
namespace {

task<> poll(Link& link, std::uint8_t& status) { status = co_await link.status_byte(); }

constexpr std::size_t most_shown_bytes = 400;
constexpr base::Duration answer_to_lock = std::chrono::seconds(2);
constexpr base::Duration answer_to_why = std::chrono::milliseconds(250);

task<> ask_why(Link& link, std::string& why) { why = co_await link.why_silent(); }

// One operation at a time; a second one would mix the answers.
class Busy {
 public:
  explicit Busy(bool& busy) : busy_(busy) {
    if (busy_) throw TransportError(base::ErrorCode::defect, "two operations at once on one session");
    busy_ = true;
  }
  Busy(const Busy&) = delete;
  Busy& operator=(const Busy&) = delete;
  ~Busy() { busy_ = false; }

 private:
  bool& busy_;
};

}  // namespace

// One alarm for all operations: a sleeper is left asleep when an operation ends in time, and looks at the deadline of
// the one under way when it wakes. Cancelling a sleeper for every query would cost more than the query.
struct Session::Watch {
  struct Sleeper {
    base::Duration wake{};
    bool asleep = true;
    asio::cancellation_signal stop;
  };

  bool active = false;
  bool ran_out = false;
  base::Duration due{};
  asio::cancellation_signal work;  // cancels the operation under way
  std::list<Sleeper> sleepers;

  bool is_covered() const {
    return std::any_of(sleepers.begin(), sleepers.end(), [&](const Sleeper& s) { return s.asleep && s.wake <= due; });
  }

  static task<> sleep(std::shared_ptr<Watch> watch, base::Timeline& timeline, Sleeper& sleeper) {
    for (;;) {
      co_await timeline.sleep_until(sleeper.wake);
      if (!watch->active) break;
      if (timeline.now() >= watch->due) {
        watch->ran_out = true;
        sleeper.asleep = false;
        watch->work.emit(asio::cancellation_type::all);
        break;
      }
      sleeper.wake = watch->due;
    }
    sleeper.asleep = false;
  }
};

Session::Session(base::Timeline& timeline, std::unique_ptr<Link> link)
    : timeline_(timeline), watch_(std::make_shared<Watch>()), link_(std::move(link)) {}

Session::~Session() {
  for (auto at = watch_->sleepers.begin(); at != watch_->sleepers.end();)
    (at++)->stop.emit(asio::cancellation_type::terminal);
}

// False when `due` came first; then the work was cancelled and has ended.
task<bool> Session::in_time(task<> work, base::Duration due) {
  const auto executor = co_await asio::this_coro::executor;
  const auto watch = watch_;  // the session may be gone when a cancelled caller unwinds
  watch->active = true;
  watch->ran_out = false;
  watch->due = due;
  if (!watch->is_covered()) {
    const auto place = watch->sleepers.emplace(watch->sleepers.end());
    place->wake = due;
    asio::co_spawn(executor, Watch::sleep(watch, timeline_, *place),
                   asio::bind_cancellation_slot(place->stop.slot(), [watch, place](const std::exception_ptr&) {
                     watch->sleepers.erase(place);  // it ends by waking or by cancellation, nothing else
                   }));
  }
  // The work listens to the alarm; what cancels the caller is passed on to it.
  auto caller = (co_await asio::this_coro::cancellation_state).slot();
  if (caller.is_connected()) caller.assign([watch](asio::cancellation_type type) { watch->work.emit(type); });
  bool done = false;
  try {
    co_await asio::co_spawn(executor, std::move(work),
                            asio::bind_cancellation_slot(watch->work.slot(), asio::use_awaitable));
    done = true;
  } catch (...) {
    watch->active = false;
    caller.clear();
    if (!watch->ran_out) throw;
  }
  watch->active = false;
  caller.clear();
  co_return done;
}

void Session::close() noexcept { link_->close(); }

task<> Session::clean_up(base::Duration within) {
  const auto begun = timeline_.now();
  if (co_await base::finished_within(timeline_, within, link_->clear())) {
    dirty_ = false;
    co_return;
  }
  base::ErrorRecord record;
  record.code = base::ErrorCode::time_out;
  record.where = resource_name();
  record.message = fmt::format("the connection could not be cleared within {:.2f} s", base::to_seconds(within));
  record.elapsed_s = base::to_seconds(timeline_.now() - begun);
  record.advice = "switch the instrument off and on";
  throw TransportError(std::move(record));
}

task<> Session::run(task<> work, std::string_view message, const Buffer* answer, base::Duration within) {
  const Busy busy(busy_);
  const auto begun = timeline_.now();
  if (dirty_) co_await clean_up(within);
  // Dirty until proven clean: an exception or a cancellation from here on leaves it so.
  dirty_ = true;
  base::ErrorRecord record;
  try {
    if (co_await in_time(std::move(work), begun + within)) {
      dirty_ = false;
      co_return;
    }
    record.code = base::ErrorCode::time_out;
    record.where = resource_name();
    record.message = answer == nullptr
                         ? fmt::format("the message was not taken within {:.2f} s", base::to_seconds(within))
                     : answer->empty() ? fmt::format("no answer within {:.2f} s", base::to_seconds(within))
                                       : fmt::format("no complete answer within {:.2f} s, {} bytes came",
                                                     base::to_seconds(within), answer->size());
    if (const auto ignored = link_->ignored(); !ignored.empty()) record.message += "; " + ignored;
    record.advice =
        "is the instrument still on and idle, and locked by nobody else? The connection is cleared before the next "
        "message";
    std::string why;
    co_await base::finished_within(timeline_, answer_to_why, ask_why(*link_, why));
    if (!why.empty()) {
      record.message += "; " + why;
      record.advice = "release the lock there, or wait for it; the connection is cleared before the next message";
    }
  } catch (const base::Error& error) {
    record = error.record();
    // What the link refuses by itself, and a lock that others hold, happened before or beside any message.
    if (record.code == base::ErrorCode::bad_input || record.code == base::ErrorCode::no_connection) dirty_ = false;
  }
  record.sent = std::string(message.substr(0, most_shown_bytes));
  if (answer != nullptr && record.received.empty()) record.received = answer->substr(0, most_shown_bytes);
  record.elapsed_s = base::to_seconds(timeline_.now() - begun);
  throw TransportError(std::move(record));
}

task<> Session::write(std::string_view message, base::Duration within) {
  return run(link_->write(message), message, nullptr, within);
}

task<> Session::query(std::string_view message, Buffer& answer, base::Duration within, std::size_t most) {
  return run(link_->query(message, answer, most), message, &answer, within);
}

task<std::string> Session::query(std::string_view message, base::Duration within, std::size_t most) {
  std::string answer;
  co_await query(message, answer, within, most);
  co_return answer;
}

task<> Session::trigger(base::Duration within) { co_await run(link_->trigger(), "trigger", nullptr, within); }

task<std::uint8_t> Session::status_byte(base::Duration within) {
  std::uint8_t status = 0;
  co_await run(poll(*link_, status), "serial poll", nullptr, within);
  co_return status;
}

// A wait that runs out leaves no dirt: nothing was asked.
task<bool> Session::wait_for_service(base::Duration within) {
  const Busy busy(busy_);
  if (dirty_) co_await clean_up(within);
  co_return co_await in_time(link_->wait_for_service(), timeline_.now() + within);
}

task<> Session::lock(std::string key, base::Duration within) {
  // The link ends the wait by itself and says why; the session's own deadline is for a peer that is silent.
  co_await run(link_->lock(std::move(key), within), "lock", nullptr, within + answer_to_lock);
}

task<> Session::unlock(base::Duration within) { co_await run(link_->unlock(), "unlock", nullptr, within); }

task<> Session::remote_local(RemoteLocal what, base::Duration within) {
  co_await run(link_->remote_local(what), "remote/local", nullptr, within);
}

}  // namespace eyelevel::transport
