// SPDX-License-Identifier: Apache-2.0
// Bytes written as hexadecimal digits with spaces, as the standards print them.
#pragma once

#include <string>
#include <string_view>

namespace eyelevel::test {

inline std::string bytes_of(std::string_view hexadecimal) {
  std::string out;
  int digits = 0;
  unsigned value = 0;
  for (const char c : hexadecimal) {
    if (c == ' ' || c == '\n') continue;
    value = value * 16U + static_cast<unsigned>(c <= '9' ? c - '0' : (c | 0x20) - 'a' + 10);
    if (++digits % 2 == 0) {
      out += static_cast<char>(value);
      value = 0;
    }
  }
  return out;
}

}  // namespace eyelevel::test
