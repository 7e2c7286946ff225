// SPDX-License-Identifier: Apache-2.0
// Names that people give to things and to themselves (serials, pickups, discs, models), as they may be kept and as they
// are shown: what a scanner or a hand-made file brings along must not change a terminal or hide in a list.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace eyelevel::record {

inline constexpr std::size_t name_characters_max = 64;
inline constexpr std::size_t words_characters_max = 2000;

// Without white space at its ends. `what` is named in the message: "the serial". Throws Error(bad_input): empty, longer
// than name_characters_max, not UTF-8, a control or direction character in it.
std::string required_name(std::string_view what, std::string_view given);
// The same for a sentence; it may be empty and have words_characters_max.
std::string required_words(std::string_view what, std::string_view given);

// For a line of a terminal or a table: bytes that are no UTF-8, control and direction characters are escaped, and
// what is longer than `characters_max` is cut with "…".
std::string shown(std::string_view text, std::size_t characters_max = name_characters_max);

}  // namespace eyelevel::record
