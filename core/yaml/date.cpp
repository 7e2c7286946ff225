// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/date.hpp"

#include <chrono>
#include <cstddef>

namespace eyelevel::yaml {

bool is_date(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
  const auto number = [&](std::size_t begin, std::size_t length) {
    int value = 0;
    for (const char c : text.substr(begin, length)) {
      if (c < '0' || c > '9') return -1;
      value = value * 10 + (c - '0');
    }
    return value;
  };
  const int year = number(0, 4);
  const int month = number(5, 2);
  const int day = number(8, 2);
  if (year < 1 || month < 1 || day < 1) return false;
  return std::chrono::year_month_day(std::chrono::year(year), std::chrono::month(static_cast<unsigned>(month)),
                                     std::chrono::day(static_cast<unsigned>(day)))
      .ok();
}

}  // namespace eyelevel::yaml
