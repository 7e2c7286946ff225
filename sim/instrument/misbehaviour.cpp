// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/misbehaviour.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <utility>

#include "core/base/error.hpp"
#include "instruments/scpi/block.hpp"
#include "instruments/scpi/error.hpp"

namespace eyelevel::sim {
namespace {

constexpr std::string_view garbage_bytes = "\x01\xff~?~,;,#9xyz";
// Latin-1 micro and degree signs, a window title and a cleared screen.
constexpr std::string_view identity_with_signs = "Eyelevel,5 \xb5V 20 \xb0\x43\x1b]0;gone\x07,\x1b[2J7,1.0";
constexpr std::size_t wrong_by_bytes = 4;
constexpr std::size_t endless_piece_bytes = std::size_t{64} << 10U;

// Replaces the header of a block at the beginning by one that announces another length.
void announce(std::string& bytes, bool more) {
  const auto header = scpi::read_block_header(bytes);
  if (header.state != scpi::BlockHeaderState::complete || header.data_bytes < wrong_by_bytes) return;
  std::string changed;
  scpi::append_block_header(changed, more ? header.data_bytes + wrong_by_bytes : header.data_bytes - wrong_by_bytes);
  bytes.replace(0, header.header_bytes, changed);
}

void forget_length(std::string& bytes) {
  const auto header = scpi::read_block_header(bytes);
  if (header.state == scpi::BlockHeaderState::complete) bytes.replace(0, header.header_bytes, "#0");
}

// NaN into the middle of a block of 32-bit reals (all ones are NaN in either byte order), or instead of a number.
void put_not_a_number(std::string& bytes) {
  const auto header = scpi::read_block_header(bytes);
  if (header.state == scpi::BlockHeaderState::complete && header.data_bytes >= 4) {
    const std::size_t middle = header.data_bytes / 8 * 4;
    const std::size_t at = header.header_bytes + std::min(middle, header.data_bytes - 4);
    bytes.replace(at, 4, 4, '\xff');
    return;
  }
  const std::size_t end = bytes.find_first_of(",;");
  const bool number = !bytes.empty() && bytes.find_first_not_of("+-.0123456789Ee,;") == std::string::npos;
  if (number) bytes.replace(0, end == std::string::npos ? bytes.size() : end, "9.91E+37");
}

struct Row {
  Misbehaviour kind;
  std::string_view name;
  std::string_view value;  // what may follow "="; empty: nothing
  std::string_view about;
};

constexpr std::array rows = {
    Row{Misbehaviour::silent, "silent", "", "gives no answer any more"},
    Row{Misbehaviour::late, "late", "SECONDS", "answers late; usual: by 10 s"},
    Row{Misbehaviour::trickle, "trickle", "SECONDS", "sends its answers byte by byte; usual: one every 0.2 s"},
    Row{Misbehaviour::garbage, "garbage", "", "answers bytes that mean nothing"},
    Row{Misbehaviour::signs_in_identity, "signs-in-identity", "",
        "has micro and degree signs and terminal commands in its answer to *IDN?"},
    Row{Misbehaviour::long_answer, "long-answer", "MEGABYTES", "answers the letter A; usual: 100 million times"},
    Row{Misbehaviour::endless_answer, "endless-answer", "", "sends its answer again and again and never ends it"},
    Row{Misbehaviour::stops_within_answer, "stops-within-answer", "BYTES",
        "sends so many bytes of an answer and then nothing; usual: half of it"},
    Row{Misbehaviour::close_in_answer, "close-in-answer", "BYTES",
        "closes the connection after so many bytes of an answer; usual: half of it"},
    Row{Misbehaviour::close_after_answer, "close-after-answer", "", "closes the connection after every whole answer"},
    Row{Misbehaviour::block_too_short, "block-too-short", "", "a block's header announces 4 bytes more than come"},
    Row{Misbehaviour::block_too_long, "block-too-long", "", "a block's header announces 4 bytes fewer than come"},
    Row{Misbehaviour::block_without_length, "block-without-length", "", "a block begins with #0 and says no length"},
    Row{Misbehaviour::not_a_number, "not-a-number", "", "one value of an answer is no number"},
    Row{Misbehaviour::error_in_queue, "error-in-queue", "NUMBER",
        "an error appears in its queue with every answer; usual: -240"},
    Row{Misbehaviour::setting_not_taken, "setting-not-taken", "HEADER", "accepts this command and does not obey it"},
    Row{Misbehaviour::knob_turned, "knob-turned", "COMMAND",
        "someone sets this at its panel after an answer, and nobody is told"},
    Row{Misbehaviour::no_service_requests, "no-service-requests", "", "never asks for service"},
    Row{Misbehaviour::wrong_status_byte, "wrong-status-byte", "", "a serial poll gives 0, whatever is the matter"},
    Row{Misbehaviour::locked, "locked", "", "someone else holds its lock; raw sockets know no locks"},
    Row{Misbehaviour::deaf, "deaf", "", "takes the connection and never says a word, not even a greeting"},
    Row{Misbehaviour::wrong_message_id, "wrong-message-id", "",
        "answers under the number of another message; HiSLIP and VXI-11"},
    Row{Misbehaviour::wrong_message_type, "wrong-message-type", "",
        "sends its answer in a message of another type; HiSLIP and VXI-11"},
};

const Row& row_of(Misbehaviour kind) {
  return *std::find_if(rows.begin(), rows.end(), [kind](const Row& row) { return row.kind == kind; });
}

[[noreturn]] void refuse(const std::string& text, std::string_view why) {
  throw base::Error(base::ErrorCode::bad_input, fmt::format("misbehaviour \"{}\": {}", text, why),
                    "eyelevel sim --list-misbehaviours shows all of them");
}

double number_in(const std::string& text, std::string_view value, double least, double most) {
  double number = 0;
  const auto [end, error] = std::from_chars(value.data(), value.data() + value.size(), number);
  if (error != std::errc() || end != value.data() + value.size() || !(number >= least && number <= most))
    refuse(text, fmt::format("\"{}\" is no number from {} to {}", value, least, most));
  return number;
}

void set_value(Fault& fault, const std::string& text, std::string_view value) {
  switch (fault.kind) {
    case Misbehaviour::late:
    case Misbehaviour::trickle: fault.delay_s = number_in(text, value, 0.001, 3600); break;
    case Misbehaviour::long_answer: fault.megabytes = number_in(text, value, 0.001, 1000); break;
    case Misbehaviour::stops_within_answer:
    case Misbehaviour::close_in_answer: fault.at_byte = static_cast<std::size_t>(number_in(text, value, 0, 1e9)); break;
    case Misbehaviour::error_in_queue: fault.error = static_cast<int>(number_in(text, value, -32768, 32767)); break;
    case Misbehaviour::setting_not_taken:
    case Misbehaviour::knob_turned: fault.header = value; break;
    default: refuse(text, "it takes no value");
  }
}

void cut(std::string& bytes, const Fault& fault) {
  bytes.resize(std::min(bytes.size(), fault.at_byte.value_or(bytes.size() / 2)));
}

bool asks_identity(std::string_view message) {
  return message.find("*IDN?") != std::string_view::npos || message.find("*idn?") != std::string_view::npos;
}

}  // namespace

std::string_view name_of(Misbehaviour kind) { return row_of(kind).name; }

std::string usage_of(Misbehaviour kind) {
  const Row& row = row_of(kind);
  if (row.value.empty()) return std::string(row.name);
  const bool needed = kind == Misbehaviour::setting_not_taken || kind == Misbehaviour::knob_turned;
  return needed ? fmt::format("{}={}", row.name, row.value) : fmt::format("{}[={}]", row.name, row.value);
}

std::string_view about(Misbehaviour kind) { return row_of(kind).about; }

const std::vector<Misbehaviour>& all_misbehaviours() {
  static const std::vector<Misbehaviour> all = [] {
    std::vector<Misbehaviour> kinds;
    kinds.reserve(rows.size());
    for (const Row& row : rows) kinds.push_back(row.kind);
    return kinds;
  }();
  return all;
}

Fault parse_misbehaviour(const std::string& text) {
  std::string_view rest = text;
  Fault fault;
  if (const auto at = rest.rfind('@'); at != std::string_view::npos) {
    fault.from_query = static_cast<int>(number_in(text, rest.substr(at + 1), 1, 1e9));
    rest = rest.substr(0, at);
  }
  const auto equals = rest.find('=');
  const auto name = rest.substr(0, equals);
  const auto row = std::find_if(rows.begin(), rows.end(), [name](const Row& one) { return one.name == name; });
  if (row == rows.end()) refuse(text, "there is none of this name");
  fault.kind = row->kind;
  if (fault.kind == Misbehaviour::trickle) fault.delay_s = 0.2;
  if (fault.kind == Misbehaviour::knob_turned) fault.queries = 1;
  if (equals != std::string_view::npos) set_value(fault, text, rest.substr(equals + 1));
  if (fault.kind == Misbehaviour::setting_not_taken && fault.header.empty())
    refuse(text, "which setting? write it as a client types it, setting-not-taken=INP1:ATT");
  if (fault.kind == Misbehaviour::knob_turned && fault.header.empty())
    refuse(text, "which knob? write what it sets as a client types it, knob-turned=INP1:COUP AC");
  return fault;
}

MisbehavingDevice::MisbehavingDevice(base::Timeline& timeline, std::shared_ptr<ScpiInstrument> inner)
    : timeline_(timeline), inner_(std::move(inner)) {}

void MisbehavingDevice::add(Fault fault) {
  if (fault.kind == Misbehaviour::setting_not_taken) {
    try {
      inner_->ignore_command(fault.header);
    } catch (const scpi::CommandError&) {
      throw base::Error(base::ErrorCode::bad_input,
                        fmt::format("setting-not-taken: this instrument has no command \"{}\"", fault.header),
                        "name the instrument that has it: scope:setting-not-taken=INP1:ATT");
    }
    return;
  }
  if (fault.kind == Misbehaviour::locked && !stranger_) {
    stranger_ = access.new_holder();
    access.take(*stranger_, "");
  }
  faults_.push_back({std::move(fault), 0});
}

void MisbehavingDevice::behave() {
  faults_.clear();
  if (stranger_) access.forget(*stranger_);
  stranger_.reset();
}

bool MisbehavingDevice::has(Misbehaviour kind) const {
  return std::any_of(faults_.begin(), faults_.end(), [kind](const Active& one) { return one.fault.kind == kind; });
}

void MisbehavingDevice::clear() { inner_->clear(); }

std::uint8_t MisbehavingDevice::serial_poll(bool message_available) {
  const std::uint8_t status = inner_->serial_poll(message_available);
  return has(Misbehaviour::wrong_status_byte) ? std::uint8_t{0} : status;
}

std::uint64_t MisbehavingDevice::service_requests() {
  return has(Misbehaviour::no_service_requests) ? 0 : inner_->service_requests();
}

task<std::uint64_t> MisbehavingDevice::service_requested(std::uint64_t seen) {
  if (has(Misbehaviour::no_service_requests)) return transport::Device::service_requested(seen);  // never
  return inner_->service_requested(seen);
}

task<> MisbehavingDevice::spoil(const Fault& fault, std::string_view message, transport::Reply& reply) {
  switch (fault.kind) {
    case Misbehaviour::silent:
    case Misbehaviour::deaf: reply.bytes.clear(); break;
    case Misbehaviour::late: co_await timeline_.sleep(base::from_seconds(fault.delay_s)); break;
    case Misbehaviour::garbage: reply.bytes = garbage_bytes; break;
    case Misbehaviour::trickle:
      reply.pace = [&timeline = timeline_, each = base::from_seconds(fault.delay_s)] { return timeline.sleep(each); };
      break;
    case Misbehaviour::signs_in_identity:
      if (asks_identity(message)) reply.bytes = identity_with_signs;
      break;
    case Misbehaviour::long_answer: reply.bytes.assign(static_cast<std::size_t>(fault.megabytes * 1e6), 'A'); break;
    case Misbehaviour::endless_answer:
      while (!reply.bytes.empty() && reply.bytes.size() < endless_piece_bytes) reply.bytes += reply.bytes;
      reply.endless = true;
      reply.terminated = false;
      break;
    case Misbehaviour::close_in_answer:
      cut(reply.bytes, fault);
      reply.terminated = false;
      reply.close_after = true;
      break;
    case Misbehaviour::close_after_answer: reply.close_after = true; break;
    case Misbehaviour::block_too_short: announce(reply.bytes, true); break;
    case Misbehaviour::block_too_long: announce(reply.bytes, false); break;
    case Misbehaviour::block_without_length: forget_length(reply.bytes); break;
    case Misbehaviour::not_a_number: put_not_a_number(reply.bytes); break;
    case Misbehaviour::error_in_queue: inner_->raise_error(fault.error, "simulated"); break;
    case Misbehaviour::stops_within_answer:
      cut(reply.bytes, fault);
      reply.terminated = false;
      break;
    case Misbehaviour::knob_turned: {
      transport::Reply nobody_reads;
      co_await inner_->execute(fault.header, nobody_reads);
      break;
    }
    case Misbehaviour::wrong_message_id: reply.wrong_id = true; break;
    case Misbehaviour::wrong_message_type: reply.wrong_type = true; break;
    case Misbehaviour::setting_not_taken:  // done when it was added
    case Misbehaviour::locked:
    case Misbehaviour::no_service_requests:  // those two wherever somebody asks
    case Misbehaviour::wrong_status_byte: break;
  }
}

task<> MisbehavingDevice::execute(std::string_view message, transport::Reply& reply) {
  co_await inner_->execute(message, reply);
  if (reply.bytes.empty()) co_return;
  // The list may change while a late answer waits: what applies is settled first.
  std::vector<Fault> now;
  for (auto& active : faults_) {
    const int number = ++active.seen - active.fault.from_query;
    if (number >= 0 && (active.fault.queries == 0 || number < active.fault.queries)) now.push_back(active.fault);
  }
  for (const auto& fault : now) co_await spoil(fault, message, reply);
}

}  // namespace eyelevel::sim
