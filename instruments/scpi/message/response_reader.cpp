// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/response_reader.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <limits>

#include "core/base/error.hpp"
#include "instruments/scpi/block.hpp"

namespace eyelevel::scpi {
namespace {

bool is_space(char c) { return static_cast<unsigned char>(c) <= 0x20; }

// SCPI-99 Vol. 1, 7.2.1.4 and 7.2.1.5.
double with_special_numbers(double value) {
  if (value == 9.91e37) return std::numeric_limits<double>::quiet_NaN();
  if (value == 9.9e37) return std::numeric_limits<double>::infinity();
  if (value == -9.9e37) return -std::numeric_limits<double>::infinity();
  return value;
}

bool parse_number(std::string_view text, double& value) {
  if (!text.empty() && text[0] == '+') text.remove_prefix(1);
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc() && end == text.data() + text.size() && std::isfinite(value);
}

}  // namespace

void ResponseReader::refuse(std::string_view expected) const {
  base::ErrorRecord record;
  record.code = base::ErrorCode::bad_answer;
  record.message = fmt::format("the answer of {} bytes cannot be read at byte {}", message_.size(), element_ + 1);
  record.received = std::string(message_.substr(0, 400));
  record.expected = std::string(expected);
  record.advice = "ask the instrument the same by hand and compare with its phrasebook";
  throw base::Error(std::move(record));
}

void ResponseReader::skip_space() {
  while (at_ < message_.size() && is_space(message_[at_])) ++at_;
}

void ResponseReader::before_element() {
  skip_space();
  element_ = at_;
  if (!first_) {
    if (at_ >= message_.size() || message_[at_] != ',') refuse("a comma and a further element");
    ++at_;
    skip_space();
  }
  first_ = false;
  element_ = at_;
}

void ResponseReader::after_element() {
  skip_space();
  element_ = at_;
  if (at_ < message_.size() && message_[at_] != ',' && message_[at_] != ';')
    refuse("a comma, a semicolon or the end of the answer");
}

std::string_view ResponseReader::plain_element() {
  before_element();
  const std::size_t begin = at_;
  while (at_ < message_.size() && message_[at_] != ',' && message_[at_] != ';') ++at_;
  std::size_t end = at_;
  while (end > begin && is_space(message_[end - 1])) --end;
  return message_.substr(begin, end - begin);
}

double ResponseReader::number() {
  const auto text = plain_element();
  double value = 0;
  if (!parse_number(text, value)) refuse(fmt::format("a number, not \"{}\"", base::escaped(text, 40)));
  return with_special_numbers(value);
}

std::int64_t ResponseReader::integer(std::int64_t least, std::int64_t most) {
  const auto text = plain_element();
  double value = 0;
  // Instruments answer integers as NR2 or NR3 too ("10000.0", "+1.0E+04").
  if (!parse_number(text, value) || value != std::floor(value) || value < static_cast<double>(least) ||
      value > static_cast<double>(most))
    refuse(fmt::format("a whole number from {} to {}, not \"{}\"", least, most, base::escaped(text, 40)));
  return static_cast<std::int64_t>(value);
}

bool ResponseReader::boolean() { return integer(0, 1) != 0; }

std::string ResponseReader::character() {
  const auto text = plain_element();
  std::string upper;
  for (const char c : text) {
    const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
    const bool other = (c >= '0' && c <= '9') || c == '_';
    if (!letter && (!other || upper.empty()))
      refuse(fmt::format("a word of letters, digits and _, not \"{}\"", base::escaped(text, 40)));
    upper += c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  }
  if (upper.empty()) refuse("a word");
  return upper;
}

std::string ResponseReader::string() {
  before_element();
  if (at_ >= message_.size() || (message_[at_] != '"' && message_[at_] != '\'')) refuse("a string in quotes");
  const char quote = message_[at_++];
  std::string text;
  for (;;) {
    if (at_ >= message_.size()) refuse("the closing quote");
    const char c = message_[at_++];
    if (c == quote) {
      if (at_ >= message_.size() || message_[at_] != quote) break;
      ++at_;
    }
    text += c;
  }
  after_element();
  return text;
}

std::string_view ResponseReader::block() {
  before_element();
  const auto header = read_block_header(message_.substr(at_));
  if (header.state == BlockHeaderState::too_large)
    refuse(fmt::format("a block of at most {} bytes, not {}", most_block_bytes, header.data_bytes));
  if (header.state != BlockHeaderState::complete) refuse("a definite-length block (#, digit count, byte count, bytes)");
  const std::size_t left = message_.size() - at_ - header.header_bytes;
  if (left < header.data_bytes)
    refuse(fmt::format("{} bytes as the block header says, only {} came", header.data_bytes, left));
  const auto data = message_.substr(at_ + header.header_bytes, header.data_bytes);
  at_ += header.header_bytes + header.data_bytes;
  after_element();
  return data;
}

std::vector<double> ResponseReader::numbers() {
  std::vector<double> all;
  while (!at_unit_end()) all.push_back(number());
  return all;
}

std::string_view ResponseReader::rest() {
  if (first_) skip_space();
  first_ = false;
  auto text = message_.substr(at_);
  at_ = message_.size();
  while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
  return text;
}

bool ResponseReader::at_end() const {
  for (std::size_t i = at_; i < message_.size(); ++i)
    if (!is_space(message_[i])) return false;
  return true;
}

bool ResponseReader::at_unit_end() const {
  for (std::size_t i = at_; i < message_.size(); ++i)
    if (!is_space(message_[i])) return message_[i] == ';';
  return true;
}

void ResponseReader::next_unit() {
  skip_space();
  if (at_ >= message_.size() || message_[at_] != ';') refuse("a semicolon and the next query's answer");
  ++at_;
  first_ = true;
}

void ResponseReader::end() const {
  if (!at_end()) refuse("the end of the answer");
}

}  // namespace eyelevel::scpi
