// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/program_parser.hpp"

#include <cmath>

#include "instruments/scpi/block.hpp"
#include "instruments/scpi/error.hpp"

namespace eyelevel::scpi {
namespace {

constexpr std::size_t most_mnemonic_characters = 12;  // IEEE 488.2, 7.6.1.4.1
constexpr std::size_t most_levels = 16;
constexpr std::size_t most_parameters = std::size_t{16} << 20U;

bool is_space(char c) { return static_cast<unsigned char>(c) <= 0x20; }
bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }
bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_mnemonic(char c) { return is_letter(c) || is_digit(c) || c == '_'; }

std::string cut(std::string_view text) { return std::string(text.substr(0, 40)); }

// Digits at the end of a mnemonic are its numeric suffix (SCPI-99 Vol. 1, 6.2.5).
Mnemonic with_suffix(std::string_view typed) {
  std::size_t end = typed.size();
  while (end > 1 && is_digit(typed[end - 1])) --end;
  Mnemonic mnemonic{typed.substr(0, end), -1};
  if (end == typed.size()) return mnemonic;
  if (typed.size() - end > 6) throw CommandError(-114, cut(typed));
  mnemonic.suffix = 0;
  for (const char c : typed.substr(end)) mnemonic.suffix = mnemonic.suffix * 10 + (c - '0');
  return mnemonic;
}

int digit_value(char c) {
  if (is_digit(c)) return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return 99;
}

}  // namespace

void ProgramParser::skip_space() {
  while (more() && is_space(message_[at_])) ++at_;
}

bool ProgramParser::next(ProgramUnit& unit) {
  while (more() && (is_space(peek()) || peek() == ';')) ++at_;
  if (!more()) return false;
  unit.common = unit.from_root = unit.query = false;
  unit.mnemonics.clear();
  unit.parameters.clear();
  header(unit);
  parameters(unit);
  return true;
}

void ProgramParser::header(ProgramUnit& unit) {
  if (peek() == '*') {
    unit.common = true;
    ++at_;
  } else if (peek() == ':') {
    unit.from_root = true;
    ++at_;
  }
  for (;;) {
    const std::size_t begin = at_;
    while (more() && is_mnemonic(message_[at_])) ++at_;
    const auto typed = message_.substr(begin, at_ - begin);
    if (typed.empty() || !is_letter(typed[0])) {
      if (more() && typed.empty()) throw CommandError(-101, cut(message_.substr(at_, 1)));
      throw CommandError(-110, cut(typed));
    }
    if (typed.size() > most_mnemonic_characters) throw CommandError(-112, cut(typed));
    unit.mnemonics.push_back(unit.common ? Mnemonic{typed, -1} : with_suffix(typed));
    if (peek() != ':') break;
    if (unit.common || unit.mnemonics.size() >= most_levels) throw CommandError(-110, cut(typed));
    ++at_;
  }
  if (peek() == '?') {
    unit.query = true;
    ++at_;
  }
  if (more() && !is_space(peek()) && peek() != ';') {
    const auto c = static_cast<unsigned char>(peek());
    if (c >= 0x7F) throw CommandError(-101);
    throw CommandError(-111, cut(message_.substr(at_, 1)));
  }
}

void ProgramParser::parameters(ProgramUnit& unit) {
  skip_space();
  if (!more() || peek() == ';') return;
  for (;;) {
    skip_space();
    if (unit.parameters.size() >= most_parameters) throw CommandError(-223);
    unit.parameters.push_back(parameter());
    skip_space();
    if (!more() || peek() == ';') return;
    if (peek() != ',') throw CommandError(-103, cut(message_.substr(at_, 1)));
    ++at_;
  }
}

Parameter ProgramParser::parameter() {
  const char c = peek();
  if (c == '"' || c == '\'') return quoted();
  if (c == '#') return hashed();
  if (c == '(') return expression();
  if (is_letter(c)) {
    const std::size_t begin = at_;
    while (more() && is_mnemonic(message_[at_])) ++at_;
    Parameter word;
    word.type = ParameterType::character;
    word.raw = message_.substr(begin, at_ - begin);
    if (word.raw.size() > most_mnemonic_characters) throw CommandError(-144, cut(word.raw));
    return word;
  }
  if (is_digit(c) || c == '+' || c == '-' || c == '.') return decimal();
  if (c == ',' || c == ';' || c == '\0') throw CommandError(c == '\0' && more() ? -101 : -102);
  throw CommandError(-101, cut(message_.substr(at_, 1)));
}

Parameter ProgramParser::quoted() {
  Parameter text;
  text.type = ParameterType::string;
  text.quote = message_[at_++];
  const std::size_t begin = at_;
  for (;;) {
    if (!more()) throw CommandError(-151);
    if (message_[at_] == text.quote) {
      if (at_ + 1 >= message_.size() || message_[at_ + 1] != text.quote) break;
      ++at_;
    } else if (static_cast<unsigned char>(message_[at_]) >= 0x80) {
      throw CommandError(-151);
    }
    ++at_;
  }
  text.raw = message_.substr(begin, at_ - begin);
  ++at_;
  return text;
}

Parameter ProgramParser::hashed() {
  const auto rest = message_.substr(at_);
  const char kind = rest.size() > 1 ? rest[1] : '\0';
  if (is_digit(kind)) {
    const auto header = read_block_header(rest);
    Parameter block;
    block.type = ParameterType::block;
    if (header.state == BlockHeaderState::too_large) throw CommandError(-223);
    if (header.state == BlockHeaderState::indefinite) {
      block.raw = rest.substr(2);  // ends with the message (7.7.6.2); only a transport with END can carry it
      at_ = message_.size();
      return block;
    }
    if (header.state != BlockHeaderState::complete || rest.size() - header.header_bytes < header.data_bytes)
      throw CommandError(-161);
    block.raw = rest.substr(header.header_bytes, header.data_bytes);
    at_ += header.header_bytes + header.data_bytes;
    return block;
  }
  const int base = kind == 'H' || kind == 'h'   ? 16
                   : kind == 'Q' || kind == 'q' ? 8
                   : kind == 'B' || kind == 'b' ? 2
                                                : 0;
  if (base == 0) throw CommandError(-161);
  at_ += 2;
  Parameter number;
  number.type = ParameterType::non_decimal;
  const std::size_t begin = at_;
  for (; more() && (is_letter(peek()) || is_digit(peek())); ++at_) {
    const int digit = digit_value(peek());
    if (digit >= base) throw CommandError(-121, cut(message_.substr(at_, 1)));
    number.value = number.value * base + digit;
  }
  if (at_ == begin) throw CommandError(-121);
  if (at_ - begin > 255) throw CommandError(-124);
  number.raw = message_.substr(begin, at_ - begin);
  return number;
}

Parameter ProgramParser::expression() {
  Parameter inside;
  inside.type = ParameterType::expression;
  const std::size_t begin = ++at_;
  int depth = 1;
  for (; more(); ++at_) {
    const char c = peek();
    if (c == '(' && ++depth > 32) throw CommandError(-171);
    if (c == ')' && --depth == 0) break;
    if (c == '"' || c == '\'' || c == '#' || c == ';' || c == '\n' || static_cast<unsigned char>(c) >= 0x7F)
      throw CommandError(-171);
  }
  if (!more()) throw CommandError(-171);
  inside.raw = message_.substr(begin, at_ - begin);
  ++at_;
  return inside;
}

Parameter ProgramParser::decimal() {
  Parameter number;
  number.type = ParameterType::decimal;
  const auto rest = message_.substr(at_);
  std::size_t used = 0;
  number.value = parse_nrf(rest, used);
  number.raw = rest.substr(0, used);
  at_ += used;
  const std::size_t after_number = at_;
  skip_space();
  const std::size_t begin = at_;
  if (is_letter(peek()) || peek() == '/') {
    while (more() && (is_mnemonic(peek()) || peek() == '/' || peek() == '.' || peek() == '-')) ++at_;
    number.suffix = message_.substr(begin, at_ - begin);
    return number;
  }
  at_ = after_number;
  if (more() && !is_space(peek()) && peek() != ',' && peek() != ';')
    throw CommandError(-121, cut(message_.substr(at_, 1)));
  return number;
}

}  // namespace eyelevel::scpi
