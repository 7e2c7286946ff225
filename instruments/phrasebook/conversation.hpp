// SPDX-License-Identifier: Apache-2.0
// What the drivers of all kinds do alike: send a group, read its answers, and read the error queue behind every group.
// One deadline holds for a whole call, however many messages it takes; after an answer that did not come, the queue is
// given half a second more. Errors carry the resource name, what was sent and what came back. Not for the meaning of
// answers: that is the drivers'.
#pragma once

#include <algorithm>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "instruments/phrasebook/phrasebook.hpp"
#include "instruments/scpi/message/program_builder.hpp"
#include "instruments/scpi/message/response_reader.hpp"
#include "instruments/transport/session.hpp"

namespace eyelevel::phrasebook {

struct Deadline {
  const base::Timeline& timeline;
  base::Duration end;

  base::Duration left() const { return std::max(base::Duration(0), end - timeline.now()); }
};

class Conversation {
 public:
  Conversation(base::Timeline& timeline, std::unique_ptr<transport::Session> session, CommonPhrases phrases);

  Deadline deadline(base::Duration within) const { return {timeline_, timeline_.now() + within}; }
  const base::Timeline& timeline() const { return timeline_; }
  const std::string& resource_name() const { return session_->resource_name(); }
  const CommonPhrases& phrases() const { return phrases_; }

  task<std::string> greet(Deadline deadline);
  task<> make_safe(Deadline deadline);
  // Empty when the phrasebook has no phrase for it.
  task<std::optional<int>> self_test(Deadline deadline);
  void close() noexcept { session_->close(); }

  // Commands without an answer; what they caused is seen by the next ask().
  task<> tell(const scpi::ProgramBuilder& commands, Deadline deadline);
  // Queries, with the error queue behind them in the same message. `read` takes the answers one by one and steps from
  // unit to unit itself. Throws Error(instrument_error) when the queue held anything, Error(bad_answer) when `read`
  // did. Views into the answer hold until the next call.
  task<> ask(scpi::ProgramBuilder queries, std::function<void(scpi::ResponseReader&)> read, Deadline deadline);
  // One query with nothing behind it, whose answer has a form of its own. What it caused is seen by the next ask(), or
  // now when `read` throws.
  task<> ask_alone(const scpi::ProgramBuilder& query, std::function<void(std::string_view)> read, Deadline deadline);
  // Gives the instrument time, within the deadline.
  task<> pause(base::Duration length, Deadline deadline);
  // One query whose answer may take long and has nothing behind it.
  task<> wait_for(const scpi::ProgramBuilder& query, std::string_view what, std::string_view advice, Deadline deadline);

  // Whether it answers at all after it was silent: it is asked for the next error.
  task<bool> answers(Deadline deadline);

  // For what a driver refuses: fills in the resource and the last exchange.
  [[noreturn]] void refuse(base::ErrorCode code, std::string message, std::string advice) const;
  // Error(setting_not_taken): what was asked beside what the instrument says.
  [[noreturn]] void not_taken(std::string_view setting, const std::string& asked, const std::string& read_back,
                              std::string advice) const;

 private:
  // Asks; gives the time-out when no answer comes, for the caller to complete.
  task<std::optional<base::ErrorRecord>> late_query(std::string message, Deadline deadline);
  // When no answer comes, what the instrument says of it in its queue is told with the time-out.
  task<> exchange(std::string message, Deadline deadline);
  // An answer that cannot be read often has its reason in the queue: `read` gives the errors that the answer told.
  task<> understand(std::function<void(std::vector<std::string>&)> read, Deadline deadline);
  // Adds what stands in the queue to `found`, up to a limit.
  task<> drain_error_queue(std::vector<std::string>& found, Deadline deadline);
  void report(const std::vector<std::string>& found);
  // The record with the resource and the last exchange filled in where it says nothing itself.
  base::ErrorRecord completed(base::ErrorRecord record) const;

  base::Timeline& timeline_;
  std::unique_ptr<transport::Session> session_;
  CommonPhrases phrases_;
  std::string told_;   // the last commands, until something else was asked for
  std::string asked_;  // the last query
  transport::Buffer answer_;
};

// For the drivers: a phrasebook of another kind than theirs. Throws Error(bad_input).
[[noreturn]] void refuse_other_kind(const Phrasebook& phrasebook, std::string_view kind);

}  // namespace eyelevel::phrasebook
