// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/session.hpp"

#include <fmt/format.h>

#include <utility>

#include "core/base/deadline.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::transport {
namespace {

task<> exchange(Link& link, std::string_view message, Buffer& answer) {
  answer.clear();
  co_await link.write(message);
  co_await link.read(answer);
}

constexpr std::size_t most_shown_bytes = 400;

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

Session::Session(base::Timeline& timeline, std::unique_ptr<Link> link) : timeline_(timeline), link_(std::move(link)) {}

Session::~Session() = default;

void Session::close() noexcept { link_->close(); }

task<> Session::clean_up(base::Duration within) {
  if (!dirty_) co_return;
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
  co_await clean_up(within);
  // Dirty until proven clean: an exception or a cancellation from here on leaves it so.
  dirty_ = true;
  base::ErrorRecord record;
  try {
    if (co_await base::finished_within(timeline_, within - (timeline_.now() - begun), std::move(work))) {
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
    record.advice = "is the instrument still on and idle? The connection is cleared before the next message";
  } catch (const base::Error& error) {
    record = error.record();
  }
  record.sent = std::string(message.substr(0, most_shown_bytes));
  if (answer != nullptr && record.received.empty()) record.received = answer->substr(0, most_shown_bytes);
  record.elapsed_s = base::to_seconds(timeline_.now() - begun);
  throw TransportError(std::move(record));
}

task<> Session::write(std::string_view message, base::Duration within) {
  co_await run(link_->write(message), message, nullptr, within);
}

task<> Session::query(std::string_view message, Buffer& answer, base::Duration within) {
  answer.clear();
  co_await run(exchange(*link_, message, answer), message, &answer, within);
}

task<std::string> Session::query(std::string_view message, base::Duration within) {
  std::string answer;
  co_await query(message, answer, within);
  co_return answer;
}

}  // namespace eyelevel::transport
