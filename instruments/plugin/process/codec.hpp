// SPDX-License-Identifier: Apache-2.0
// The lines that are exchanged with a process plugin: one JSON object (RFC 8259) each, ended by a line feed. No I/O.
// What comes from a plugin is bytes from a stranger: bounded, parsed strictly, unknown keys refused.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/register/outside.hpp"

namespace eyelevel::plugin::process {

inline constexpr int protocol = 1;
inline constexpr std::size_t line_most = std::size_t{1} << 20U;  // of an answer
inline constexpr std::size_t notes_most = 100;
inline constexpr std::size_t note_most = 1000;
inline constexpr std::size_t numbers_most = 64;

// {"id":1,"ask":"hello","protocol":1}
std::string hello_line(std::int64_t id);
// Samples are little-endian 32-bit floats in base64 (RFC 4648, clause 4).
std::string question_line(std::int64_t id, const registers::Question& question);

struct Hello {
  std::string name;
  std::vector<registers::OutsidePart> parts;  // without their calls
};

// A line as it came, without its end. Both throw Error(bad_answer) that says what is wrong and shows the line;
// parse_answer throws Error(instrument_error) with the plugin's own words when it says that it cannot.
Hello parse_hello(std::string_view line, std::int64_t id, const std::string& from);
registers::Answer parse_answer(std::string_view line, std::int64_t id, const std::string& from);

std::string base64(const std::vector<float>& samples);

}  // namespace eyelevel::plugin::process
