// SPDX-License-Identifier: Apache-2.0
// Numbers in paths and queries.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "core/service/http/message.hpp"

namespace eyelevel::service {

// Digits only, at most 15 of them.
std::optional<std::int64_t> whole_number(std::string_view text);

// `at_most` of the query, 1 to 10 000; throws http::Problem(400).
std::size_t at_most_of(const http::Request& request, std::size_t usual);

}  // namespace eyelevel::service
