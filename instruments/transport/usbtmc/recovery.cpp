// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/recovery.hpp"

#include <fmt/format.h>

#include <boost/asio/use_awaitable.hpp>

#include <utility>

#include "core/base/deadline.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::transport::usbtmc {
namespace {

constexpr base::Duration check_pause = std::chrono::milliseconds(50);
constexpr int most_checks = 20;
constexpr int most_abort_tries = 5;
constexpr base::Duration drain_limit = std::chrono::milliseconds(500);
constexpr int most_drained_packets = 4096;
constexpr base::Duration reset_limit = std::chrono::seconds(10);
constexpr base::Duration reopen_pause = std::chrono::milliseconds(250);
constexpr int most_reopenings = 20;  // a new device is known to the system after some seconds at the latest

enum class Outcome { done, next };

task<> drain_to_short_packet(Conversation& c) {
  const std::size_t full = c.pipe->endpoints().bulk_in_packet_bytes;
  for (int i = 0; i < most_drained_packets; ++i) {
    const auto moved = c.seen(co_await c.packet.take(c.pipe));
    if (moved.trouble == Trouble::stall) c.in_stalled = true;
    if (moved.trouble != Trouble::none || moved.bytes < full) co_return;
  }
}

task<> drain(Conversation& c) { co_await base::finished_within(c.timeline, drain_limit, drain_to_short_packet(c)); }

class Ladder {
 public:
  Ladder(Conversation& c, const OpenPipe& open) : c_(c), open_(open) {}

  task<> climb() {
    while (!c_.gone) {
      const Rung rung = c_.rung;
      c_.rung = rung == Rung::none ? Rung::abort : static_cast<Rung>(static_cast<int>(rung) + 1);
      const auto outcome = co_await step(rung);
      if (outcome == Outcome::done) {
        recovered();
        co_return;
      }
    }
    co_await reopen(1);
  }

 private:
  task<Outcome> step(Rung rung) {
    switch (rung) {
      case Rung::abort: return abort_open();
      case Rung::clear: return clear();
      case Rung::halts: return clear_halts();
      case Rung::reset: return reset();
      case Rung::none: break;
    }
    return give_up();
  }

  void note(std::string text) { notes_ += (notes_.empty() ? "" : "; ") + std::move(text); }

  void recovered() {
    c_.open_in.reset();
    c_.open_out.reset();
    c_.tail_open = false;
    c_.rung = Rung::abort;
  }

  // A clear follows: an abort ends the transfer, not what the instrument is still working at.
  task<Outcome> abort_open() {
    bool fine = true;
    if (c_.open_out) fine = co_await abort_out(*c_.open_out);
    if (!c_.gone && c_.open_in) fine = co_await abort_in(*c_.open_in) && fine;
    co_return fine&& c_.quirks.no_clear && !c_.in_stalled && !c_.gone ? Outcome::done : Outcome::next;
  }

  // INITIATE_x until it is taken or there is nothing to do: empty when it failed, false when nothing is open.
  task<std::optional<bool>> initiate(Request request, std::uint8_t tag) {
    for (int i = 0; i < most_abort_tries; ++i) {
      const auto told = co_await c_.ask(request, tag);
      if (told.is(Status::success)) co_return true;
      if (told.is(Status::failed)) co_return false;
      if (!told.is(Status::transfer_not_in_progress)) {
        note(told.text);
        co_return std::nullopt;
      }
      co_await c_.timeline.sleep(check_pause);  // the transfer may not have been looked at yet
    }
    co_return false;  // it is of another transfer than ours
  }

  // CHECK_x until success; a failure is noted.
  task<bool> check(Request request) {
    for (int i = 0; i < most_checks; ++i) {
      const auto told = co_await c_.ask(request, 0);
      if (told.is(Status::success)) co_return true;
      if (!told.is(Status::pending)) {
        note(told.text);
        co_return false;
      }
      if (told.answer->fifo_not_empty) co_await drain(c_);
      co_await c_.timeline.sleep(check_pause);
    }
    note(fmt::format("{}: still STATUS_PENDING after {} answers", name_of(request), most_checks));
    co_return false;
  }

  // USBTMC 4.2.1.2 and 4.2.1.3; the transfer itself was cancelled by whoever waited for it.
  task<bool> abort_out(std::uint8_t tag) {
    const auto begun = co_await initiate(Request::initiate_abort_bulk_out, tag);
    if (!begun) co_return false;
    if (*begun && !co_await check(Request::check_abort_bulk_out_status)) co_return false;
    co_return (co_await c_.clear_halt(c_.pipe->endpoints().bulk_out)).trouble == Trouble::none;
  }

  // USBTMC 4.2.1.4 and 4.2.1.5: the read of the next packet is still under way.
  task<bool> abort_in(std::uint8_t tag) {
    co_await c_.packet.start(c_.pipe);
    const auto begun = co_await initiate(Request::initiate_abort_bulk_in, tag);
    if (!begun) co_return false;
    if (!*begun) co_return true;
    co_await drain(c_);
    co_return co_await check(Request::check_abort_bulk_in_status);
  }

  // USBTMC 4.2.1.6 and 4.2.1.7.
  task<Outcome> clear() {
    if (c_.quirks.no_clear) co_return Outcome::next;
    co_await c_.packet.stop();
    const auto told = co_await c_.ask(Request::initiate_clear, 0);
    if (!told.is(Status::success)) {
      note(told.text);
      co_return Outcome::next;
    }
    if (!co_await check(Request::check_clear_status)) co_return Outcome::next;
    co_await c_.packet.stop();
    const auto& ends = c_.pipe->endpoints();
    bool fine = co_await cleared(ends.bulk_out);
    // Only when it was seen halted: some firmware loses count of its packets by a CLEAR_FEATURE that is not needed.
    if (c_.in_stalled) fine = co_await cleared(ends.bulk_in) && fine;
    co_return fine ? Outcome::done : Outcome::next;
  }

  task<bool> cleared(std::uint8_t endpoint) {
    const auto moved = co_await c_.clear_halt(endpoint);
    if (moved.trouble == Trouble::none) co_return true;
    note(fmt::format("CLEAR_FEATURE on endpoint 0x{:02X}: {}", endpoint, name_of(moved.trouble)));
    co_return false;
  }

  task<Outcome> clear_halts() {
    co_await c_.packet.stop();
    const auto& ends = c_.pipe->endpoints();
    const bool out = co_await cleared(ends.bulk_out);
    const bool in = co_await cleared(ends.bulk_in);
    if (c_.gone) co_return Outcome::next;
    if (c_.quirks.no_clear) co_return out&& in ? Outcome::done : Outcome::next;
    co_return co_await clear();
  }

  static task<Moved> reset_once(std::shared_ptr<Pipe> pipe) { co_return co_await pipe->reset(); }

  task<Outcome> reset() {
    if (c_.quirks.no_reset) {
      note("no port reset: the instrument would not come back from it");
      co_return Outcome::next;
    }
    co_await c_.packet.stop();
    auto moved = co_await base::result_within(c_.timeline, reset_limit, reset_once(c_.pipe));
    if (moved) c_.seen(*moved);
    if (c_.gone) {
      co_await reopen(most_reopenings);
    } else {
      if (!moved || moved->trouble != Trouble::none) {
        note(fmt::format("port reset: {}", moved ? name_of(moved->trouble) : "no end of it"));
        co_return Outcome::next;
      }
      // A sign of life; that it does not know the request is one, too.
      const auto told = co_await c_.ask(Request::get_capabilities, 0);
      if (c_.gone) co_return Outcome::next;
      if (told.silent || (told.trouble != Trouble::none && told.trouble != Trouble::stall)) {
        note("after the port reset " + told.text);
        co_return Outcome::next;
      }
      c_.fresh = true;
      c_.in_stalled = false;
      recovered();
    }
    fail("the instrument answered no clear, so its USB port was reset; its settings may be lost",
         "set the instrument up again; the connection is usable");
  }

  // After an unplugging one attempt: the caller's next message comes here again.
  task<> reopen(int attempts) {
    if (c_.pipe) c_.pipe->close();
    c_.packet.forget();
    for (int i = 1;; ++i) {
      try {
        c_.pipe = co_await open_();
        break;
      } catch (const TransportError&) {
        if (i >= attempts) throw;
      }
      co_await c_.timeline.sleep(reopen_pause);
    }
    c_.gone = false;
    c_.fresh = true;
    c_.in_stalled = false;
    recovered();
  }

  task<Outcome> give_up() {
    fail("the instrument cannot be made to answer again: neither abort, clear, CLEAR_FEATURE nor a port reset helped",
         "switch the instrument off and on, or unplug its USB cable and plug it in again");
  }

  [[noreturn]] void fail(std::string message, std::string advice) const {
    base::ErrorRecord record;
    record.code = base::ErrorCode::connection_lost;
    record.where = c_.name;
    record.message = std::move(message);
    record.advice = std::move(advice);
    record.cause = notes_;
    throw TransportError(std::move(record));
  }

  Conversation& c_;
  const OpenPipe& open_;
  std::string notes_;  // what failed on the rungs below
};

}  // namespace

task<> recover(Conversation& conversation, const OpenPipe& open) {
  Ladder ladder(conversation, open);
  co_await ladder.climb();
}

}  // namespace eyelevel::transport::usbtmc
