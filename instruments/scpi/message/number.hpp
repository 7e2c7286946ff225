// SPDX-License-Identifier: Apache-2.0
// Numbers, units and strings as SCPI writes them; shared by both sides of the wire.
#pragma once

#include <string>
#include <string_view>

namespace eyelevel::scpi {

// Units that a parameter may ask for (IEEE 488.2 Table 7-1; amplitude forms SCPI-99 Vol. 1, 7.5.1).
enum class Unit {
  none,
  volt,
  ampere,
  ohm,
  farad,
  henry,
  hertz,
  second,
  watt,
  decibel,
  percent,
  celsius,
  kelvin,
  degree
};

// NR3: mantissa with a point, signed exponent: 1.234500000E-03. Not finite: 9.9E+37, -9.9E+37, 9.91E+37.
void append_nr3(std::string& out, double value, int digits);
// In double quotes, the quote doubled (IEEE 488.2, 7.7.5).
void append_quoted(std::string& out, std::string_view text);

// The factor of a suffix such as "mV", "MHZ", "us" for the unit; throws CommandError -131 when it is another unit, -134
// when longer than 12 characters. Case is ignored; MHZ and MOHM are mega although M elsewhere is milli (7.7.3).
double suffix_factor(std::string_view suffix, Unit unit);

// A decimal number by the rules of NRf (7.7.2), without suffix; `used` says how many characters belong to it, 0 when
// the text does not begin with a number. Throws CommandError -121, -123 (exponent beyond 32000), -124 (255 digits).
double parse_nrf(std::string_view text, std::size_t& used);

}  // namespace eyelevel::scpi
