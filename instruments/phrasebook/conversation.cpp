// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/conversation.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <exception>
#include <optional>
#include <utility>

#include "instruments/scpi/error_queue.hpp"

namespace eyelevel::phrasebook {
namespace {

constexpr std::size_t most_shown_bytes = 400;
// More than any queue holds: an instrument that never comes to an end is refused.
constexpr std::size_t most_errors = 64;
constexpr base::Duration to_explain_silence = std::chrono::milliseconds(500);

// As Latin-1, which older instruments write (micro and degree signs).
bool is_printable(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char c) {
    const auto u = static_cast<unsigned char>(c);
    return (u >= 0x20 && u < 0x7F) || u >= 0xA0;
  });
}

std::string joined(const std::vector<std::string>& texts) {
  std::string out;
  for (const std::string& text : texts) out += (out.empty() ? "" : "; ") + text;
  return out;
}

std::string printed(const scpi::QueuedError& error) {
  return fmt::format("{} \"{}\"", error.number, base::legible(error.text));
}

// False: the queue was empty.
bool add_error(std::string_view answer, std::vector<std::string>& found) {
  const scpi::QueuedError error = scpi::parse_queued_error(answer);
  if (error.number != 0) found.push_back(printed(error));
  return error.number != 0;
}

// Of an answer whose units are not what was asked for: an instrument leaves out those that it cannot answer, and what
// the queue says of it is the last, or all of it. Texts may hold semicolons.
void add_error_at_end(std::string_view answer, std::vector<std::string>& found) {
  constexpr std::size_t most_entry_bytes = 300;  // SCPI-99 Vol. 2, 21.8.2: 255 of text
  const std::size_t before = answer.size() - std::min(answer.size(), most_entry_bytes);
  std::size_t at = before == 0 ? 0 : answer.find(';', before);
  for (; at != std::string_view::npos; at = answer.find(';', at)) {
    if (at < answer.size() && answer[at] == ';') ++at;
    try {
      add_error(answer.substr(at), found);
      return;
    } catch (const base::Error&) {  // NOLINT(bugprone-empty-catch): no entry begins here
    }
  }
}

}  // namespace

Conversation::Conversation(base::Timeline& timeline, std::unique_ptr<transport::Session> session, CommonPhrases phrases)
    : timeline_(timeline), session_(std::move(session)), phrases_(std::move(phrases)) {}

base::ErrorRecord Conversation::completed(base::ErrorRecord record) const {
  if (record.where.empty()) record.where = resource_name();
  if (record.sent.empty()) {
    const bool both = !told_.empty() && !asked_.empty();
    record.sent = (told_ + (both ? "\n" : "") + asked_).substr(0, most_shown_bytes);
  }
  if (record.received.empty()) record.received = answer_.substr(0, most_shown_bytes);
  return record;
}

void Conversation::refuse(base::ErrorCode code, std::string message, std::string advice) const {
  base::ErrorRecord record;
  record.code = code;
  record.message = std::move(message);
  record.advice = std::move(advice);
  throw base::Error(completed(std::move(record)));
}

void Conversation::not_taken(std::string_view setting, const std::string& asked, const std::string& read_back,
                             std::string advice) const {
  refuse(base::ErrorCode::setting_not_taken,
         fmt::format("{}: asked {}, the instrument says {}", setting, asked, base::legible(read_back)),
         std::move(advice));
}

task<> Conversation::tell(const scpi::ProgramBuilder& commands, Deadline deadline) {
  told_ = commands.text();
  asked_.clear();
  answer_.clear();
  co_await session_->write(told_, deadline.left());
}

task<> Conversation::ask(scpi::ProgramBuilder queries, std::function<void(scpi::ResponseReader&)> read,
                         Deadline deadline) {
  queries.query(phrases_.next_error);
  co_await exchange(queries.text(), deadline);
  const auto read_all = [&](std::vector<std::string>& errors) {
    try {
      scpi::ResponseReader reader(answer_);
      read(reader);
      reader.next_unit();
      add_error(reader.rest(), errors);
    } catch (const base::Error&) {
      add_error_at_end(answer_, errors);
      throw;
    }
  };
  co_await understand(read_all, deadline);
}

task<> Conversation::ask_alone(const scpi::ProgramBuilder& query, std::function<void(std::string_view)> read,
                               Deadline deadline) {
  co_await exchange(query.text(), deadline);
  const auto read_all = [&](std::vector<std::string>&) { read(answer_); };
  co_await understand(read_all, deadline);
}

task<std::optional<base::ErrorRecord>> Conversation::late_query(std::string message, Deadline deadline) {
  asked_ = std::move(message);
  try {
    co_await session_->query(asked_, answer_, deadline.left());
  } catch (const base::Error& error) {
    if (error.record().code != base::ErrorCode::time_out) throw;
    co_return error.record();
  }
  co_return std::nullopt;
}

task<> Conversation::exchange(std::string message, Deadline deadline) {
  std::optional<base::ErrorRecord> late = co_await late_query(std::move(message), deadline);
  if (!late) co_return;
  std::vector<std::string> errors;
  try {
    co_await drain_error_queue(errors, this->deadline(to_explain_silence));
  } catch (const base::Error&) {  // NOLINT(bugprone-empty-catch): it is silent altogether
  }
  if (!errors.empty()) late->message += "; then the instrument reports " + joined(errors);
  throw base::Error(std::move(*late));
}

task<> Conversation::understand(std::function<void(std::vector<std::string>&)> read, Deadline deadline) {
  std::optional<base::Error> misread;
  std::vector<std::string> errors;
  try {
    read(errors);
  } catch (const base::Error& error) {
    misread.emplace(completed(error.record()));
  }
  if (!misread && errors.empty()) co_return;
  try {
    co_await drain_error_queue(errors, deadline);
  } catch (const base::Error&) {  // NOLINT(bugprone-empty-catch): the first trouble is told, below
    // Not that the queue could not be read to its end because of it.
  }
  report(errors);
  if (misread) throw base::Error(*misread);
}

task<> Conversation::pause(base::Duration length, Deadline deadline) {
  if (length > base::Duration(0)) co_await timeline_.sleep(std::min(length, deadline.left()));
}

task<> Conversation::drain_error_queue(std::vector<std::string>& found, Deadline deadline) {
  scpi::ProgramBuilder query;
  query.query(phrases_.next_error);
  for (bool more = true; more && found.size() < most_errors;) {
    transport::Buffer answer;
    co_await session_->query(query.text(), answer, deadline.left());
    more = add_error(answer, found);
  }
}

void Conversation::report(const std::vector<std::string>& found) {
  if (found.empty()) return;
  answer_.clear();  // what the queue said is the message
  refuse(
      base::ErrorCode::instrument_error,
      fmt::format("the instrument reports {}",
                  found.size() == 1 ? found.front() : fmt::format("{} errors: {}", found.size(), joined(found))),
      "did somebody use the instrument's own keys meanwhile? is this the right phrasebook for it? look up the numbers "
      "in its handbook");
}

task<> Conversation::wait_for(const scpi::ProgramBuilder& query, std::string_view what, std::string_view advice,
                              Deadline deadline) {
  told_.clear();
  std::optional<base::ErrorRecord> late = co_await late_query(query.text(), deadline);
  if (late) {
    late->message = fmt::format("{}: {}", what, late->message);
    late->advice = advice;
    throw base::Error(std::move(*late));
  }
  try {
    scpi::ResponseReader reader(answer_);
    reader.integer(1, 1);
    reader.end();
  } catch (const base::Error& error) {
    throw base::Error(completed(error.record()));
  }
}

task<bool> Conversation::answers(Deadline deadline) {
  scpi::ProgramBuilder query;
  query.query(phrases_.next_error);
  try {
    co_await session_->query(query.text(), answer_, deadline.left());
  } catch (const base::Error&) {
    co_return false;
  }
  co_return true;
}

void refuse_other_kind(const Phrasebook& phrasebook, std::string_view kind) {
  const auto with_article = [](std::string_view name) {
    return (name.starts_with('o') ? "an " : "a ") + std::string(name);
  };
  throw base::Error(base::ErrorCode::bad_input,
                    fmt::format("the phrasebook '{}' is for {}, not for {}", phrasebook.name,
                                with_article(phrasebook.kind), with_article(kind)),
                    "name another phrasebook in the bench file");
}

task<std::string> Conversation::greet(Deadline deadline) {
  scpi::ProgramBuilder clear;
  clear.command(phrases_.clear_status);
  co_await tell(clear, deadline);
  scpi::ProgramBuilder identity;
  identity.query(phrases_.identity);
  asked_ = identity.text();
  co_await session_->query(asked_, answer_, deadline.left(), transport::most_identity_bytes);
  std::string name = answer_;
  while (!name.empty() && (name.back() == ' ' || name.back() == '\r' || name.back() == '\n')) name.pop_back();
  if (name.empty() || name.size() > transport::most_identity_bytes || !is_printable(name))
    refuse(base::ErrorCode::bad_answer,
           "the answer to who it is cannot be read: 1 to 1024 characters without control characters are expected",
           "is there an instrument of this kind behind the resource name, and no other program talking to it?");
  std::vector<std::string> errors;
  co_await drain_error_queue(errors, deadline);
  report(errors);
  co_return base::legible(name);
}

task<std::optional<int>> Conversation::self_test(Deadline deadline) {
  if (phrases_.self_test.empty()) co_return std::nullopt;
  scpi::ProgramBuilder query;
  query.query(phrases_.self_test);
  told_.clear();
  std::int64_t found = 0;
  co_await ask(
      std::move(query),
      [&](scpi::ResponseReader& answer) { found = answer.integer(-32767, 32767); },  // IEEE 488.2, 10.38.3
      deadline);
  co_return static_cast<int>(found);
}

task<> Conversation::make_safe(Deadline deadline) {
  scpi::ProgramBuilder stop;
  if (!phrases_.stop.empty()) stop.command(phrases_.stop);
  stop.command(phrases_.clear_status);
  co_await tell(stop, deadline);
  scpi::ProgramBuilder completed;
  completed.query(phrases_.completed);
  co_await wait_for(completed, "stopping", "switch the instrument off by hand", deadline);
}

}  // namespace eyelevel::phrasebook
