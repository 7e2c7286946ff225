// SPDX-License-Identifier: Apache-2.0
#include "core/service/numbers.hpp"

#include <algorithm>
#include <charconv>

#include "core/service/http/problem.hpp"

namespace eyelevel::service {

std::optional<std::int64_t> whole_number(std::string_view text) {
  constexpr std::size_t digits_most = 15;
  const bool is_number = !text.empty() && text.size() <= digits_most &&
                         std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
  if (!is_number) return std::nullopt;
  std::int64_t number = 0;
  std::from_chars(text.data(), text.data() + text.size(), number);
  return number;
}

std::size_t at_most_of(const http::Request& request, std::size_t usual) {
  const auto at = request.query.find("at_most");
  if (at == request.query.end()) return usual;
  const auto number = whole_number(at->second);
  if (!number || *number < 1 || *number > 10'000)
    throw http::Problem(400, "`at_most` is to be a whole number from 1 to 10000");
  return static_cast<std::size_t>(*number);
}

}  // namespace eyelevel::service
