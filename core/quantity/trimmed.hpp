// SPDX-License-Identifier: Apache-2.0
// Text without the white space around it.
#pragma once

#include <string_view>

namespace eyelevel::quantity {

inline std::string_view trimmed(std::string_view text) {
  constexpr std::string_view space = " \t\r\n";
  const auto begin = text.find_first_not_of(space);
  if (begin == std::string_view::npos) return {};
  return text.substr(begin, text.find_last_not_of(space) - begin + 1);
}

}  // namespace eyelevel::quantity
