// SPDX-License-Identifier: Apache-2.0
// JSON text that loses no digit. Boost.JSON 1.81 rounds the last digit of some numbers when it reads and writes 1.2 as
// 1.2E0; here numbers are written in their shortest form that reads back as the same double, and read correctly
// rounded. Not a number and infinities have no place in JSON (RFC 8259, clause 6) and are written as null.
#pragma once

#include <boost/json/value.hpp>

#include <string>
#include <string_view>

namespace eyelevel::record {

enum class Layout { one_line, indented };

std::string text_of(const boost::json::value& value, Layout layout = Layout::one_line);

// Throws Error(bad_input) on anything but one JSON text in UTF-8, at most 32 levels deep; `what` names the text in the
// message ("event 12 of run 2030-01-07-3").
boost::json::value parse_json(std::string_view text, std::string_view what);

// The text with every byte that is no UTF-8 replaced by U+FFFD: instruments answer what they like.
std::string clean_utf8(std::string_view text);

}  // namespace eyelevel::record
