// SPDX-License-Identifier: Apache-2.0
// One parameter of a program message unit (IEEE 488.2, 7.7; SCPI-99 Vol. 1, chapters 7 and 8), as typed, and what the
// instrument may ask of it. Views point into the message. Every accessor throws CommandError with the standard number.
#pragma once

#include <cstdint>
#include <initializer_list>
#include <string>
#include <string_view>
#include <vector>

#include "instruments/scpi/message/number.hpp"

namespace eyelevel::scpi {

enum class ParameterType { character, decimal, non_decimal, string, block, expression };

// What a numeric parameter may also say; the limits belong to the setting (SCPI-99 Vol. 1, 7.2.1).
struct NumericLimits {
  double least = 0;
  double most = 0;
  double usual = 0;  // DEFault
};

class Parameter {
 public:
  ParameterType type = ParameterType::character;
  std::string_view raw;     // as typed; for a block its data, for an expression what stands inside the parentheses
  std::string_view suffix;  // after a decimal number; may be empty
  double value = 0;         // of a decimal or non-decimal number
  char quote = '"';         // of a string

  // A plain number, with or without suffix; INFinity, NINFinity, NAN are understood. -104, -131, -138.
  double number(Unit unit = Unit::none) const;
  // A <numeric_value> within limits: also MINimum, MAXimum, DEFault. Out of range: -222.
  double number(Unit unit, const NumericLimits& limits) const;
  std::int64_t integer(std::int64_t least, std::int64_t most) const;  // rounded; -222
  bool boolean() const;                                               // ON, OFF or a number; -224
  // Index of the choice in capitals-mark-the-short-form spelling, e.g. {"POSitive", "NEGative"}; -224 when none fits.
  std::size_t choice(std::initializer_list<std::string_view> choices) const;
  bool is_word(std::string_view spelling) const;
  std::string text() const;               // a string, doubled quotes undone; -158 or -104
  std::string name() const;               // character data in upper case; -104
  std::string_view block() const;         // -104
  std::vector<int> channel_list() const;  // (@1,3,4:6) -> 1 3 4 5 6; at most 1000 channels; -171, -104
};

// Whether `word` is the short or the long form of `spelling` (capitals mark the short form), in any case mix.
bool matches_spelling(std::string_view word, std::string_view spelling);
// The short form in upper case.
std::string short_form(std::string_view spelling);

}  // namespace eyelevel::scpi
