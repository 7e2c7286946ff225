// SPDX-License-Identifier: Apache-2.0
#include "core/base/error.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace eyelevel::base {

std::string_view name_of(ErrorCode code) {
  switch (code) {
    case ErrorCode::bad_input: return "bad_input";
    case ErrorCode::not_found: return "not_found";
    case ErrorCode::no_connection: return "no_connection";
    case ErrorCode::time_out: return "time_out";
    case ErrorCode::connection_lost: return "connection_lost";
    case ErrorCode::bad_answer: return "bad_answer";
    case ErrorCode::instrument_error: return "instrument_error";
    case ErrorCode::setting_not_taken: return "setting_not_taken";
    case ErrorCode::wrong_wiring: return "wrong_wiring";
    case ErrorCode::wait_ran_out: return "wait_ran_out";
    case ErrorCode::no_answer: return "no_answer";
    case ErrorCode::not_recording: return "not_recording";
    case ErrorCode::stopped: return "stopped";
    case ErrorCode::defect: return "defect";
  }
  return "defect";
}

ErrorKind kind_of(ErrorCode code) {
  switch (code) {
    case ErrorCode::bad_input:
    case ErrorCode::not_found: return ErrorKind::input;
    case ErrorCode::defect: return ErrorKind::defect;
    default: return ErrorKind::outside;
  }
}

std::string escaped(std::string_view bytes, std::size_t most) {
  std::string out;
  for (const char c : bytes.substr(0, most)) {
    const auto u = static_cast<unsigned char>(c);
    if (c == '\n') {
      out += "\\n";
    } else if (c == '\r') {
      out += "\\r";
    } else if (c == '\t') {
      out += "\\t";
    } else if (c == '"' || c == '\\') {
      out += '\\';
      out += c;
    } else if (u < 0x20 || u >= 0x7F) {
      out += fmt::format("\\x{:02x}", u);
    } else {
      out += c;
    }
  }
  if (bytes.size() > most) out += fmt::format("... ({} bytes in all)", bytes.size());
  return out;
}

std::string legible(std::string_view bytes) {
  std::string out;
  for (const char c : bytes) {
    const auto u = static_cast<unsigned char>(c);
    if (u >= 0xA0) {
      out += static_cast<char>(0xC0U | (u >> 6U));
      out += static_cast<char>(0x80U | (u & 0x3FU));
    } else if ((u < 0x20 && c != '\t') || u >= 0x7F) {
      out += fmt::format("\\x{:02x}", u);
    } else {
      out += c;
    }
  }
  return out;
}

std::string describe(const ErrorRecord& record) {
  std::string text = record.where.empty() ? record.message : record.where + ": " + record.message;
  if (!record.attempted.empty()) text += "\n  while: " + record.attempted;
  if (!record.sent.empty()) text += fmt::format("\n  sent {} bytes \"{}\"", record.sent.size(), escaped(record.sent));
  if (!record.received.empty())
    text += fmt::format("\n  received {} bytes \"{}\"", record.received.size(), escaped(record.received));
  if (!record.expected.empty()) text += "\n  expected: " + record.expected;
  if (record.elapsed_s) text += fmt::format("\n  after {:.2f} s", *record.elapsed_s);
  if (!record.cause.empty()) text += "\n  because: " + record.cause;
  if (!record.advice.empty()) text += "\n  try: " + record.advice;
  return text;
}

Error::Error(ErrorRecord record) : record_(std::move(record)), text_(describe(record_)) {}

Error::Error(ErrorCode code, std::string message, std::string advice)
    : Error(ErrorRecord{.code = code,
                        .where = {},
                        .message = std::move(message),
                        .attempted = {},
                        .sent = {},
                        .received = {},
                        .expected = {},
                        .elapsed_s = {},
                        .advice = std::move(advice),
                        .cause = {}}) {}

void Error::within(std::string_view outer_place) {
  record_.where = record_.where.empty() ? std::string(outer_place) : fmt::format("{}: {}", outer_place, record_.where);
  text_ = describe(record_);
}

}  // namespace eyelevel::base
