// SPDX-License-Identifier: Apache-2.0
// Printing of quantities (declared in text.hpp): what is printed is read back by the parser as the same value to the
// digits printed.
#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>
#include <string>
#include <string_view>

#include "core/quantity/text.hpp"

namespace eyelevel::quantity {
namespace {

struct Prefix {
  std::string_view text;
  double factor;
};

constexpr std::array prefixes{Prefix{"p", 1e-12}, Prefix{"n", 1e-9}, Prefix{"µ", 1e-6},
                              Prefix{"m", 1e-3},  Prefix{"", 1},     Prefix{"k", 1e3},
                              Prefix{"M", 1e6},   Prefix{"G", 1e9},  Prefix{"T", 1e12}};

std::string number(double value, int digits) { return fmt::format("{:.{}g}", value, digits); }

bool takes_prefix(Dimension d) { return !(d == ratio || d == temperature || d == angle); }

// As the printed digits have it, so that 999.9999 mV becomes 1 V and not 1000 mV.
// Not by strtod, which wants a comma where the locale says so.
double rounded(double value, int digits) {
  const auto text = number(value, digits);
  double read = value;
  std::from_chars(text.data(), text.data() + text.size(), read);
  return read;
}

}  // namespace

std::string print(AnyQuantity quantity, int digits) {
  const auto [value, dimension] = quantity;
  if (std::isnan(value)) return "not a number";  // what an instrument answers when it knows none (9.91E37)
  const std::string unit = unit_of(dimension);
  if (unit.empty()) return number(value, digits);
  if (dimension == time && std::abs(value) >= 60 && std::fmod(value, 60) == 0) {
    const bool hours = std::fmod(value, 3600) == 0;
    return number(value / (hours ? 3600 : 60), digits) + (hours ? " h" : " min");
  }
  const double size = std::abs(rounded(value, digits));
  if (!takes_prefix(dimension) || size == 0 || !std::isfinite(size)) return number(value, digits) + " " + unit;
  const Prefix* best = &prefixes.front();
  for (const Prefix& p : prefixes) {
    if (p.factor < 1 && dimension.sample != 0) continue;  // there is no thousandth of a sample
    if (p.factor > 1 && dimension == time) break;         // nor does anybody count kiloseconds
    if (size >= p.factor * (1 - 1e-12) || (p.factor == 1 && dimension.sample != 0)) best = &p;
  }
  if (dimension.sample != 0 && best->factor < 1) best = &prefixes[4];
  return fmt::format("{} {}{}", number(value / best->factor, digits), best->text, unit);
}

std::string print_percent(double fraction, int digits) { return number(fraction * 100, digits) + " %"; }

std::string print(const Tolerance& tolerance, int digits) {
  if (tolerance.is_relative) return "± " + print_percent(tolerance.half_width, digits);
  return "± " + print(AnyQuantity{tolerance.half_width, tolerance.dimension}, digits);
}

std::string print(const Span& span, int digits) {
  const auto value = [&](double si) { return print(AnyQuantity{si, span.dimension}, digits); };
  if (span.nominal && span.tolerance) return value(*span.nominal) + " " + print(*span.tolerance, digits);
  if (span.low && span.high) return value(*span.low) + " to " + value(*span.high);
  if (span.low) return "at least " + value(*span.low);
  if (span.high) return "at most " + value(*span.high);
  return "any";
}

}  // namespace eyelevel::quantity
