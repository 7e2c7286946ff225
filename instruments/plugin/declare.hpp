// SPDX-License-Identifier: Apache-2.0
// What a plugin of either form says of its parts, as it came, and the check that turns it into a declaration: names,
// texts and units are bounded and legible before anybody prints or registers them.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "core/register/outside.hpp"

namespace eyelevel::plugin {

inline constexpr std::size_t parts_most = 64;
inline constexpr std::size_t parameters_most = 32;

struct ParameterSaid {
  std::string name;
  std::string type = "text";  // text, word, count, quantity, yes or no, reading, waveform, captures
  std::string unit;           // of a quantity
  bool required = false;
  std::string help, example;
  std::vector<std::string> choices;
};

struct PartSaid {
  std::string kind;  // verb, measure, driver, transport
  std::string name, about, example;
  std::string gives;       // unit of its reading, "1" for a ratio; empty: none
  std::string takes;       // of a measure: waveform or captures
  std::string instrument;  // of a driver: the kind it drives
  std::vector<ParameterSaid> parameters;
};

// Without its call. Throws Error(bad_answer) that names the part and what is wrong with it. `from` is who says so.
registers::OutsidePart declared(const PartSaid& said, const std::string& from);

// What is left of a text that a plugin sent for people: one line, no control characters, at most `most` bytes.
std::string one_line(std::string_view text, std::size_t most);

// Kinds of instrument that a driver can be for, and what it is asked: driver.hpp.
const std::vector<std::string>& driven_kinds();

}  // namespace eyelevel::plugin
