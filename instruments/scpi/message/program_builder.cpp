// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/program_builder.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>

#include "core/base/error.hpp"
#include "instruments/scpi/block.hpp"
#include "instruments/scpi/message/number.hpp"

namespace eyelevel::scpi {

ProgramBuilder& ProgramBuilder::command(std::string_view pattern, std::initializer_list<int> numbers) {
  return command(pattern, std::span(numbers.begin(), numbers.size()));
}

ProgramBuilder& ProgramBuilder::query(std::string_view pattern, std::initializer_list<int> numbers) {
  return query(pattern, std::span(numbers.begin(), numbers.size()));
}

ProgramBuilder& ProgramBuilder::command(std::string_view pattern, std::span<const int> numbers) {
  begin(pattern, numbers, false);
  return *this;
}

ProgramBuilder& ProgramBuilder::query(std::string_view pattern, std::span<const int> numbers) {
  begin(pattern, numbers, true);
  return *this;
}

void ProgramBuilder::begin(std::string_view pattern, std::span<const int> numbers, bool query) {
  if (!text_.empty()) text_ += ';';
  if (!pattern.starts_with('*') && !pattern.starts_with(':')) text_ += ':';
  std::size_t next = 0;
  for (std::size_t i = 0; i < pattern.size(); ++i) {
    const char c = pattern[i];
    if (c == '[') {
      i = std::min(pattern.find(']', i), pattern.size());
      continue;
    }
    if (c == '<') {
      if (next < numbers.size()) text_ += std::to_string(numbers[next]);
      ++next;
      i = std::min(pattern.find('>', i), pattern.size());
      continue;
    }
    // An optional first node leaves its colon behind.
    if (c == ':' && text_.ends_with(':')) continue;
    if (c != '?') text_ += c;
  }
  if (next != numbers.size())
    throw base::Error(base::ErrorCode::defect,
                      fmt::format("header {} has {} places for numbers, {} were given", pattern, next, numbers.size()));
  if (query) text_ += '?';
  first_parameter_ = true;
}

void ProgramBuilder::separate() {
  text_ += first_parameter_ ? ' ' : ',';
  first_parameter_ = false;
}

ProgramBuilder& ProgramBuilder::number(double value) {
  separate();
  if (!std::isfinite(value)) {
    append_nr3(text_, value, 3);
    return *this;
  }
  char digits[40];
  const auto end = std::to_chars(digits, digits + sizeof digits, value).ptr;
  for (const char* c = digits; c != end; ++c) text_ += *c == 'e' ? 'E' : *c;
  return *this;
}

ProgramBuilder& ProgramBuilder::integer(std::int64_t value) {
  separate();
  text_ += std::to_string(value);
  return *this;
}

ProgramBuilder& ProgramBuilder::boolean(bool value) { return word(value ? "ON" : "OFF"); }

ProgramBuilder& ProgramBuilder::word(std::string_view character_data) {
  separate();
  text_ += character_data;
  return *this;
}

ProgramBuilder& ProgramBuilder::string(std::string_view text) {
  separate();
  append_quoted(text_, text);
  return *this;
}

ProgramBuilder& ProgramBuilder::block(std::string_view data) {
  separate();
  append_block(text_, data);
  return *this;
}

ProgramBuilder& ProgramBuilder::channels(std::span<const int> list) {
  separate();
  text_ += "(@";
  for (std::size_t i = 0; i < list.size(); ++i) {
    if (i > 0) text_ += ',';
    text_ += std::to_string(list[i]);
  }
  text_ += ')';
  return *this;
}

}  // namespace eyelevel::scpi
