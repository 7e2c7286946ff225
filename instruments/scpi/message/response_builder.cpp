// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/response_builder.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "instruments/scpi/block.hpp"
#include "instruments/scpi/message/number.hpp"

namespace eyelevel::scpi {

void ResponseBuilder::begin_unit() {
  unit_begun_ = true;
  element_begun_ = false;
}

void ResponseBuilder::separate() {
  if (element_begun_) {
    out_ += ',';
  } else if (unit_begun_ && !out_.empty()) {
    out_ += ';';
  }
  element_begun_ = true;
}

void ResponseBuilder::nr1(std::int64_t value) {
  separate();
  fmt::format_to(std::back_inserter(out_), "{}", value);
}

void ResponseBuilder::nr2(double value, int decimals) {
  separate();
  fmt::format_to(std::back_inserter(out_), "{:.{}f}", value, std::max(decimals, 1));
}

void ResponseBuilder::nr3(double value, int digits) {
  separate();
  append_nr3(out_, value, digits);
}

void ResponseBuilder::character(std::string_view word) {
  separate();
  for (const char c : word) out_ += c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
}

void ResponseBuilder::string(std::string_view text) {
  separate();
  append_quoted(out_, text);
}

void ResponseBuilder::arbitrary(std::string_view ascii) {
  separate();
  out_ += ascii;
}

std::span<char> ResponseBuilder::block(std::size_t bytes) {
  separate();
  append_block_header(out_, bytes);
  const std::size_t begin = out_.size();
  out_.resize(begin + bytes);
  return std::span(out_).subspan(begin);
}

}  // namespace eyelevel::scpi
