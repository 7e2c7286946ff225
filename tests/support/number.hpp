// SPDX-License-Identifier: Apache-2.0
#pragma once

#include <charconv>
#include <stdexcept>
#include <string>
#include <string_view>

namespace eyelevel::test {

// The number with which a text begins, after spaces and a plus. Not std::stod, which wants a comma where the locale
// says so.
inline double point_number(std::string_view text) {
  const auto begin = text.find_first_not_of(" \t\n+");
  if (begin == std::string_view::npos) throw std::invalid_argument("no number in \"" + std::string(text) + "\"");
  double value = 0;
  const auto read = std::from_chars(text.data() + begin, text.data() + text.size(), value);
  if (read.ec != std::errc()) throw std::invalid_argument("no number in \"" + std::string(text) + "\"");
  return value;
}

}  // namespace eyelevel::test
