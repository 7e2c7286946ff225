// SPDX-License-Identifier: Apache-2.0
// Quantities as people write them: `1.20 V`, `500 us`, `20 MSa/s`, `600 k points`, `10 %`, `x10`; tolerances `± 10 %`;
// spans `1.20 V ± 10 %`, `0.6 V to 2.6 V`, `at least 20 MSa/s`, `at most 200`. Units are case-sensitive: mV is not MV.
// A mistake is a value, not an exception: where in the text (a byte offset), what is wrong, what would be right.
// Values are in SI units (dimension.hpp). Pure functions, one pass; any bytes are safe input.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>

#include "core/quantity/dimension.hpp"

namespace eyelevel::quantity {

struct TextError {
  std::size_t offset = 0;  // byte in the text given
  std::string message;     // "expected a time such as 45 s, found a voltage (1.20 V)"
  std::string suggestion;  // "write a time such as 45 s"; may be empty
};

// Either the value or the mistake.
template <class T>
class Parsed {
 public:
  Parsed(T value) : content_(std::move(value)) {}          // NOLINT: conversions are the purpose
  Parsed(TextError error) : content_(std::move(error)) {}  // NOLINT: conversions are the purpose
  explicit operator bool() const { return content_.index() == 0; }
  const T& operator*() const { return std::get<0>(content_); }
  const T* operator->() const { return &std::get<0>(content_); }
  const TextError& error() const { return std::get<1>(content_); }

 private:
  std::variant<T, TextError> content_;
};

struct AnyQuantity {
  double si = 0;
  Dimension dimension;
  bool operator==(const AnyQuantity&) const = default;
};

// Half a width: absolute in SI units of `dimension`, or (is_relative) a fraction of what it is applied to.
struct Tolerance {
  double half_width = 0;
  bool is_relative = false;
  Dimension dimension;
  bool operator==(const Tolerance&) const = default;
};

// What a value must lie in. At least one end is set; `nominal` and `tolerance` when it was written with ±.
struct Span {
  std::optional<double> low;
  std::optional<double> high;
  std::optional<double> nominal;
  Dimension dimension;
  std::optional<Tolerance> tolerance;
  bool operator==(const Span&) const = default;

  bool contains(double si) const { return (!low || si >= *low) && (!high || si <= *high); }
};

// A value and where the text after it goes on (white space skipped): for longer phrases.
template <class T>
struct Scanned {
  T value;
  std::size_t end = 0;
};

// The whole text is one quantity. A number without unit has dimension ratio.
Parsed<AnyQuantity> parse_quantity(std::string_view text);
// The same, in SI units of the expected dimension; a missing unit and a wrong dimension are mistakes of their own.
Parsed<double> parse_quantity(std::string_view text, Dimension expected);
// `± 1.5 %` (also `+/- 10 mV`). Relative, or of the expected dimension.
Parsed<Tolerance> parse_tolerance(std::string_view text, Dimension expected);
// `A ± T`, `A to B`, `at least A`, `at most B`.
Parsed<Span> parse_span(std::string_view text);
Parsed<Span> parse_span(std::string_view text, Dimension expected);
// A whole number from 0 (`64`); no unit.
Parsed<long long> parse_count(std::string_view text);

// The same from `offset` on; words may follow (`500 us long`, `0.6 V to 2.6 V at the probe tip`).
Parsed<Scanned<AnyQuantity>> scan_quantity(std::string_view text, std::size_t offset = 0);
Parsed<Scanned<Span>> scan_span(std::string_view text, std::size_t offset = 0);
// Only the tolerance, from `±` on: for `target ± 10 %`, where a name stands before it.
Parsed<Scanned<Tolerance>> scan_tolerance(std::string_view text, std::size_t offset = 0);

// nominal ± tolerance as a span; a relative tolerance is taken of the nominal value's magnitude.
Span span_about(AnyQuantity nominal, const Tolerance& tolerance);

// With a prefix that leaves 1 to 999 before it and at most `digits` significant digits: "1.2 V", "500 µs", "20 MSa/s",
// "10 min". A ratio prints as a bare number; print_percent writes it as "10 %".
std::string print(AnyQuantity quantity, int digits = 6);
std::string print_percent(double fraction, int digits = 6);
std::string print(const Tolerance& tolerance, int digits = 6);
std::string print(const Span& span, int digits = 6);

}  // namespace eyelevel::quantity
