// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/number.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <iterator>
#include <limits>
#include <optional>

#include "instruments/scpi/error.hpp"

namespace eyelevel::scpi {
namespace {

struct UnitName {
  std::string_view name;
  Unit unit;
  double factor;
};

constexpr std::array unit_names{
    UnitName{"V", Unit::volt, 1},         UnitName{"VPP", Unit::volt, 1},
    UnitName{"VPK", Unit::volt, 1},       UnitName{"VRMS", Unit::volt, 1},
    UnitName{"A", Unit::ampere, 1},       UnitName{"OHM", Unit::ohm, 1},
    UnitName{"F", Unit::farad, 1},        UnitName{"H", Unit::henry, 1},
    UnitName{"HZ", Unit::hertz, 1},       UnitName{"S", Unit::second, 1},
    UnitName{"MIN", Unit::second, 60},    UnitName{"HR", Unit::second, 3600},
    UnitName{"W", Unit::watt, 1},         UnitName{"DB", Unit::decibel, 1},
    UnitName{"PCT", Unit::percent, 1e-2}, UnitName{"PPM", Unit::percent, 1e-6},
    UnitName{"CEL", Unit::celsius, 1},    UnitName{"K", Unit::kelvin, 1},
    UnitName{"DEG", Unit::degree, 1},     UnitName{"RAD", Unit::degree, 57.29577951308232},
};

struct Multiplier {
  std::string_view name;
  double factor;
};

// IEEE 488.2 Table 7-2; two-letter ones first.
constexpr std::array multipliers{
    Multiplier{"EX", 1e18}, Multiplier{"PE", 1e15}, Multiplier{"MA", 1e6},  Multiplier{"T", 1e12},
    Multiplier{"G", 1e9},   Multiplier{"K", 1e3},   Multiplier{"M", 1e-3},  Multiplier{"U", 1e-6},
    Multiplier{"N", 1e-9},  Multiplier{"P", 1e-12}, Multiplier{"F", 1e-15}, Multiplier{"A", 1e-18},
};

std::string upper(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return out;
}

std::optional<double> factor_of(std::string_view name, Unit unit) {
  for (const auto& known : unit_names)
    if (known.unit == unit && known.name == name) return known.factor;
  return std::nullopt;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_space(char c) { return static_cast<unsigned char>(c) <= 0x20 && c != '\n'; }

}  // namespace

void append_nr3(std::string& out, double value, int digits) {
  if (std::isnan(value)) {
    out += "9.91E+37";
  } else if (std::isinf(value)) {
    out += value > 0 ? "9.9E+37" : "-9.9E+37";
  } else {
    fmt::format_to(std::back_inserter(out), "{:.{}E}", value, std::clamp(digits, 2, 17) - 1);
  }
}

void append_quoted(std::string& out, std::string_view text) {
  out += '"';
  for (const char c : text) {
    if (c == '"') out += '"';
    out += c;
  }
  out += '"';
}

double suffix_factor(std::string_view suffix, Unit unit) {
  if (suffix.size() > 12) throw CommandError(-134, std::string(suffix.substr(0, 20)));
  const std::string name = upper(suffix);
  if (unit == Unit::none) throw CommandError(-138, name);
  if (const auto factor = factor_of(name, unit)) return *factor;
  if (name == "MHZ" && unit == Unit::hertz) return 1e6;
  if (name == "MOHM" && unit == Unit::ohm) return 1e6;
  for (const auto& multiplier : multipliers) {
    if (!name.starts_with(multiplier.name)) continue;
    if (const auto factor = factor_of(std::string_view(name).substr(multiplier.name.size()), unit))
      return multiplier.factor * *factor;
  }
  throw CommandError(-131, name);
}

double parse_nrf(std::string_view text, std::size_t& used) {
  used = 0;
  std::size_t at = 0;
  std::string digits;  // without signs of '+', white space inside, and leading zeros that say nothing
  if (at < text.size() && (text[at] == '+' || text[at] == '-')) {
    if (text[at] == '-') digits += '-';
    ++at;
    while (at < text.size() && is_space(text[at])) ++at;
  }
  std::size_t mantissa_digits = 0;
  bool point = false;
  for (; at < text.size() && (is_digit(text[at]) || (text[at] == '.' && !point)); ++at) {
    point = point || text[at] == '.';
    if (is_digit(text[at]) && ++mantissa_digits > 255) throw CommandError(-124);
    digits += text[at];
  }
  if (mantissa_digits == 0) {
    if (at > 0) throw CommandError(-121, std::string(text.substr(0, 20)));
    return 0;
  }
  used = at;
  // Exponent: white space is allowed before and after the E; "1 EV" is no exponent, so a digit must follow.
  std::size_t e = at;
  while (e < text.size() && is_space(text[e])) ++e;
  if (e < text.size() && (text[e] == 'E' || text[e] == 'e')) {
    ++e;
    while (e < text.size() && is_space(text[e])) ++e;
    std::string sign;
    if (e < text.size() && (text[e] == '+' || text[e] == '-')) sign = text[e++] == '-' ? "-" : "";
    if (e < text.size() && is_digit(text[e])) {
      long exponent = 0;
      for (; e < text.size() && is_digit(text[e]); ++e) exponent = std::min(exponent * 10 + (text[e] - '0'), 100000L);
      if (exponent > 32000) throw CommandError(-123);
      digits += fmt::format("e{}{}", sign, exponent);
      used = e;
    }
  }
  double value = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (error == std::errc::result_out_of_range) {
    // Beyond double: the exponent's sign tells zero from infinity; a listener never rejects it for that (7.7.2.4.1).
    const bool tiny = digits.find("e-") != std::string::npos;
    const double magnitude = tiny ? 0.0 : std::numeric_limits<double>::infinity();
    return digits[0] == '-' ? -magnitude : magnitude;
  }
  if (error != std::errc() || end != digits.data() + digits.size())
    throw CommandError(-121, std::string(text.substr(0, 20)));
  return value;
}

}  // namespace eyelevel::scpi
