// SPDX-License-Identifier: Apache-2.0
// The units people write, with their prefixes, and what is said about one that is not known. Symbols are
// case-sensitive. Three are understood besides the symbols of the SI: `Sa` for samples (also `S/s`, `points`,
// `samples`), `%`, `ppm`.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

#include "core/quantity/dimension.hpp"

namespace eyelevel::quantity {

// value in SI = number * factor + zero; `zero` is not 0 for degrees Celsius only.
struct Unit {
  double factor = 1;
  double zero = 0;
  Dimension dimension;
  bool is_percent = false;
};

struct UnitFound {
  Unit unit;
  std::size_t length = 0;  // bytes of the text that are the unit
};

// The unit at the beginning of `text` (a number stands before it), or nothing when the word there is no unit.
std::optional<UnitFound> unit_at(std::string_view text);
// What the writer of an unknown unit may have meant: "min or ms", "mV or MV"; empty when nothing is near.
std::string meant_by(std::string_view word);
// The word at the beginning of `text`, up to white space or one of , ; ( ) < >.
std::string_view word_at(std::string_view text);

}  // namespace eyelevel::quantity
