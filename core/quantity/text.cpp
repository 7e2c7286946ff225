// SPDX-License-Identifier: Apache-2.0
#include "core/quantity/text.hpp"

#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>
#include <string>
#include <system_error>

#include "core/quantity/trimmed.hpp"
#include "core/quantity/unit.hpp"

namespace eyelevel::quantity {
namespace {

// A quantity as it stands in the text.
struct Written {
  AnyQuantity quantity;
  double number = 0;
  double factor = 1;
  bool has_unit = false;
  bool is_percent = false;
  std::size_t begin = 0;
  std::size_t end = 0;  // just behind it
};

bool is_digit(char c) { return c >= '0' && c <= '9'; }

// White space, the no-break space and the narrow ones that typesetters put before a unit.
std::size_t skip_space(std::string_view text, std::size_t at) {
  static constexpr std::array<std::string_view, 7> spaces{" ", "\t", "\n", "\r", "\u00A0", "\u2009", "\u202F"};
  for (bool again = true; again;) {
    again = false;
    for (const std::string_view space : spaces) {
      if (text.substr(at).starts_with(space)) {
        at += space.size();
        again = true;
      }
    }
  }
  return at;
}

std::string quoted(std::string_view text) {
  constexpr std::size_t most = 40;
  return text.size() <= most ? fmt::format("'{}'", text) : fmt::format("'{}...'", text.substr(0, most));
}

struct Number {
  double value = 0;
  std::size_t end = 0;
};

Parsed<Number> number_at(std::string_view text, std::size_t begin) {
  std::size_t at = begin;
  double sign = 1;
  if (text.substr(at).starts_with("\u2212")) {
    sign = -1;
    at += std::string_view("\u2212").size();
  } else if (at < text.size() && (text[at] == '-' || text[at] == '+')) {
    sign = text[at] == '-' ? -1 : 1;
    ++at;
  }
  const std::size_t first = at;
  const bool starts =
      at < text.size() && (is_digit(text[at]) || (text[at] == '.' && at + 1 < text.size() && is_digit(text[at + 1])));
  if (!starts) {
    const std::string_view rest = trimmed(text.substr(std::min(begin, text.size())));
    return TextError{begin,
                     rest.empty() ? "expected a number, found nothing" : "expected a number, found " + quoted(rest),
                     "begin with a number, then its unit"};
  }
  Number number;
  const auto [stop, failed] = std::from_chars(text.data() + at, text.data() + text.size(), number.value);
  number.end = static_cast<std::size_t>(stop - text.data());
  const std::string_view written = text.substr(begin, number.end - begin);
  if (failed == std::errc::result_out_of_range || !std::isfinite(number.value))
    return TextError{begin, fmt::format("{} is too large or too small for a number", quoted(written)),
                     "use a prefix: 20 MSa/s instead of 20000000 Sa/s"};
  const std::string_view rest = text.substr(number.end);
  if (rest.size() > 1 && rest[0] == ',' && is_digit(rest[1])) {
    std::size_t digits = 1;
    while (digits < rest.size() && is_digit(rest[digits])) ++digits;
    return TextError{number.end, fmt::format("a comma inside the number '{}{}'", written, rest.substr(0, digits)),
                     fmt::format("write {}.{} with a point", written, rest.substr(1, digits - 1))};
  }
  if (rest.size() > 1 && rest[0] == ':' && is_digit(rest[1])) {
    const std::string_view word = word_at(text.substr(begin));
    return TextError{begin, fmt::format("{} could be minutes and seconds or hours and minutes", quoted(word)),
                     "write one number with its unit, such as 90 s or 90 min"};
  }
  if (text[first] == '0' && first + 1 < text.size() && is_digit(text[first + 1]))
    return TextError{
        begin, fmt::format("the number {} has zeros in front", quoted(written)),
        fmt::format("write {:g}; where a serial number is meant, it does not belong here", sign * number.value)};
  number.value *= sign;
  return number;
}

// A prefix moves the decimal point before the digits become a binary number: 48.3 mA is the number that 0.0483 A is,
// which 48.3 times 1e-3 is not. `digits` as written, of what came to `number`.
double scaled(double number, std::string_view digits, double factor) {
  const double by_factor = number * factor;
  const auto power = static_cast<int>(std::lround(std::log10(factor)));
  const bool is_prefix = power != 0 && std::abs(std::pow(10, power) / factor - 1) < 1e-12;
  const std::size_t first = digits.find_first_of(".0123456789");
  if (!is_prefix || first == std::string_view::npos || digits.find_first_of("eE") != std::string_view::npos)
    return by_factor;
  const std::string moved = fmt::format("{}e{}", digits.substr(first), power);
  double value = 0;
  const auto [stop, failed] = std::from_chars(moved.data(), moved.data() + moved.size(), value);
  return failed == std::errc{} ? std::copysign(value, number) : by_factor;
}

// `unit_required`: an unknown word behind the number is a mistake; else the number ends before it.
Parsed<Written> written_at(std::string_view text, std::size_t offset, bool unit_required) {
  Written w;
  w.begin = skip_space(text, std::min(offset, text.size()));
  std::size_t at = w.begin;
  bool is_factor = false;
  for (const std::string_view times : {"x", "\u00D7"}) {
    if (text.substr(at).starts_with(times) && at + times.size() < text.size() && is_digit(text[at + times.size()])) {
      at += times.size();
      is_factor = true;
      break;
    }
  }
  const auto number = number_at(text, at);
  if (!number) return number.error();
  w.number = number->value;
  w.end = number->end;
  if (is_factor) {
    w.has_unit = true;
    w.quantity = {w.number, ratio};
    return w;
  }
  const std::size_t unit_begin = skip_space(text, w.end);
  const std::string_view rest = text.substr(unit_begin);
  const auto unit = unit_at(rest);
  if (unit) {
    w.has_unit = true;
    w.is_percent = unit->unit.is_percent;
    w.factor = unit->unit.factor;
    const std::string_view digits = text.substr(at, w.end - at);
    w.quantity = {scaled(w.number, digits, w.factor) + unit->unit.zero, unit->unit.dimension};
    w.end = unit_begin + unit->length;
    if (!std::isfinite(w.quantity.si))
      return TextError{w.begin, fmt::format("{} is too large", quoted(text.substr(w.begin, w.end - w.begin))),
                       "write a smaller one"};
    return w;
  }
  w.quantity = {w.number, ratio};
  const std::string_view word = word_at(rest);
  if (unit_required && !word.empty()) {
    const std::string meant = meant_by(word);
    return TextError{unit_begin, fmt::format("unknown unit {}", quoted(word)),
                     meant.empty()
                         ? "units are written like V, mV, s, ms, us, Hz, Sa/s, Sa, Ω, F, A, °C, %; mV is not MV"
                         : fmt::format("write {}; units are case-sensitive", meant)};
  }
  return w;
}

std::string_view text_of(std::string_view text, const Written& w) { return text.substr(w.begin, w.end - w.begin); }

std::string units_for(double number, Dimension dimension) {
  const std::string unit = unit_of(dimension);
  if (dimension == voltage || dimension == current) return fmt::format("write {0:g} {1} or {0:g} m{1}", number, unit);
  if (dimension == time) return fmt::format("write {0:g} s, {0:g} ms or {0:g} min", number);
  if (dimension == temperature) return fmt::format("write {:g} °C", number);
  if (dimension == sample_rate || dimension == frequency)
    return fmt::format("write {0:g} M{1}, {0:g} k{1} or {0:g} {1}", number, unit);
  if (dimension == samples || dimension == resistance)
    return fmt::format("write {0:g} {1} or {0:g} k{1}", number, unit);
  if (dimension == capacitance) return fmt::format("write {:g} pF", number);
  return fmt::format("write {:g} {}", number, unit);
}

std::optional<TextError> wrong_dimension(std::string_view text, const Written& w, Dimension expected) {
  if (w.quantity.dimension == expected) return std::nullopt;
  if (!w.has_unit)
    return TextError{w.begin, fmt::format("{} has no unit, expected {}", text_of(text, w), with_article(expected)),
                     units_for(w.number, expected)};
  std::string suggestion = fmt::format("write {} such as {}", with_article(expected), example_of(expected));
  const bool wants_samples = expected == samples || expected == sample_rate;
  if (wants_samples && w.quantity.dimension == conductance) {
    suggestion = fmt::format("S alone is siemens; write {}", print(AnyQuantity{w.quantity.si, expected}));
  } else if ((expected == sample_rate && w.quantity.dimension == frequency) ||
             (expected == frequency && w.quantity.dimension == sample_rate)) {
    suggestion = fmt::format("write {}", print(AnyQuantity{w.quantity.si, expected}));
  }
  return TextError{w.begin,
                   fmt::format("expected {}, found {} ({})", with_article(expected), with_article(w.quantity.dimension),
                               text_of(text, w)),
                   suggestion};
}

TextError left_over(std::string_view text, std::size_t at) {
  return TextError{at, fmt::format("nothing may follow here, found {}", quoted(trimmed(text.substr(at)))),
                   "leave it out"};
}

std::size_t plus_minus_at(std::string_view text, std::size_t at) {
  for (const std::string_view sign : {"±", "+/-", "+-"})
    if (text.substr(at).starts_with(sign)) return sign.size();
  return 0;
}

bool word_is(std::string_view text, std::size_t at, std::string_view word) {
  return text.substr(at).starts_with(word) && word_at(text.substr(at + word.size())).empty() &&
         at + word.size() < text.size();
}

struct WrittenTolerance {
  Tolerance tolerance;
  Written written;
};

Parsed<WrittenTolerance> tolerance_at(std::string_view text, std::size_t at, bool unit_required) {
  at = skip_space(text, std::min(at, text.size()));
  const std::size_t sign = plus_minus_at(text, at);
  if (sign == 0) {
    const std::string_view rest = trimmed(text.substr(at));
    return TextError{
        at, rest.empty() ? "expected a tolerance, found nothing" : "expected a tolerance, found " + quoted(rest),
        "write it like ± 10 % or ± 5 mV"};
  }
  const auto w = written_at(text, at + sign, unit_required);
  if (!w) return w.error();
  if (w->number < 0)
    return TextError{w->begin, fmt::format("the tolerance {} is negative", text_of(text, *w)),
                     fmt::format("write ± {:g} and its unit", -w->number)};
  WrittenTolerance t{{w->quantity.si, w->is_percent, w->quantity.dimension}, *w};
  if (w->quantity.dimension == temperature) t.tolerance.half_width = w->number * w->factor;  // 5 °C wide is 5 K wide
  if (w->has_unit && !w->is_percent && w->quantity.dimension == ratio) t.tolerance.is_relative = true;  // ppm
  return t;
}

Parsed<Scanned<Span>> about(std::string_view text, const Written& nominal, std::size_t at, bool unit_required) {
  auto t = tolerance_at(text, at, unit_required);
  if (!t) return t.error();
  Tolerance tolerance = t->tolerance;
  const Written& width = t->written;
  if (!width.has_unit && nominal.has_unit) {
    TextError error{width.begin, fmt::format("the tolerance {} has no unit", text_of(text, width)), {}};
    error.suggestion = fmt::format("write ± {0:g} {1} or ± {0:g} %", width.number,
                                   nominal.is_percent ? "%" : unit_of(nominal.quantity.dimension));
    if (nominal.is_percent) error.suggestion = fmt::format("write ± {:g} %", width.number);
    return error;
  }
  if (nominal.is_percent) tolerance.is_relative = false;  // 0 % ± 20 % means per cent points
  if (!tolerance.is_relative) {
    if (auto wrong = wrong_dimension(text, width, nominal.quantity.dimension)) return *wrong;
  } else if (nominal.quantity.si == 0) {
    return TextError{width.begin, fmt::format("{} of zero is zero", text_of(text, width)),
                     fmt::format("write the tolerance as {}", with_article(nominal.quantity.dimension))};
  }
  return Scanned<Span>{span_about(nominal.quantity, tolerance), skip_space(text, width.end)};
}

Parsed<Scanned<Span>> from_to(std::string_view text, const Written& low, std::size_t at, bool unit_required) {
  const auto high = written_at(text, at, unit_required);
  if (!high) return high.error();
  if (!low.has_unit && high->has_unit) {
    return TextError{low.begin, fmt::format("{} has no unit", text_of(text, low)),
                     fmt::format("write the unit of {} there too", text_of(text, *high))};
  }
  if (auto wrong = wrong_dimension(text, *high, low.quantity.dimension)) return *wrong;
  if (low.quantity.si > high->quantity.si)
    return TextError{
        low.begin,
        fmt::format("the range begins at {} and ends below it at {}", text_of(text, low), text_of(text, *high)),
        fmt::format("write {} to {}", text_of(text, *high), text_of(text, low))};
  Span span{low.quantity.si, high->quantity.si, {}, low.quantity.dimension, {}};
  return Scanned<Span>{span, skip_space(text, high->end)};
}

struct WrittenSpan {
  Span span;
  Written first;
  std::size_t end = 0;
};

Parsed<WrittenSpan> span_at(std::string_view text, std::size_t offset, bool unit_required) {
  const std::size_t begin = skip_space(text, std::min(offset, text.size()));
  for (const std::string_view bound : {"at least", "at most"}) {
    if (!word_is(text, begin, bound)) continue;
    const auto w = written_at(text, begin + bound.size(), unit_required);
    if (!w) return w.error();
    Span span;
    span.dimension = w->quantity.dimension;
    (bound == "at least" ? span.low : span.high) = w->quantity.si;
    return WrittenSpan{span, *w, skip_space(text, w->end)};
  }
  const auto first = written_at(text, begin, false);
  if (!first) return first.error();
  const std::size_t next = skip_space(text, first->end);
  if (plus_minus_at(text, next) != 0) {
    const auto span = about(text, *first, next, unit_required);
    if (!span) return span.error();
    return WrittenSpan{span->value, *first, span->end};
  }
  if (word_is(text, next, "to")) {
    const auto span = from_to(text, *first, next + 2, unit_required);
    if (!span) return span.error();
    return WrittenSpan{span->value, *first, span->end};
  }
  if (!first->has_unit && unit_required && next < text.size()) {
    const auto strict = written_at(text, begin, true);
    if (!strict) return strict.error();
  }
  return TextError{begin, fmt::format("expected a limit, found only {}", quoted(trimmed(text.substr(begin)))),
                   fmt::format("write {0} ± 10 %, {0} to ..., at least {0} or at most {0}", text_of(text, *first))};
}

}  // namespace

Parsed<Scanned<AnyQuantity>> scan_quantity(std::string_view text, std::size_t offset) {
  const auto w = written_at(text, offset, false);
  if (!w) return w.error();
  return Scanned<AnyQuantity>{w->quantity, skip_space(text, w->end)};
}

Parsed<Scanned<Span>> scan_span(std::string_view text, std::size_t offset) {
  const auto s = span_at(text, offset, false);
  if (!s) return s.error();
  return Scanned<Span>{s->span, s->end};
}

Parsed<Scanned<Tolerance>> scan_tolerance(std::string_view text, std::size_t offset) {
  const auto t = tolerance_at(text, offset, false);
  if (!t) return t.error();
  return Scanned<Tolerance>{t->tolerance, skip_space(text, t->written.end)};
}

Parsed<AnyQuantity> parse_quantity(std::string_view text) {
  const auto w = written_at(text, 0, true);
  if (!w) return w.error();
  const std::size_t end = skip_space(text, w->end);
  if (end < text.size()) return left_over(text, end);
  return w->quantity;
}

Parsed<double> parse_quantity(std::string_view text, Dimension expected) {
  if (skip_space(text, 0) == text.size())
    return TextError{0, fmt::format("expected {}, found nothing", with_article(expected)),
                     fmt::format("write {} such as {}", with_article(expected), example_of(expected))};
  const auto w = written_at(text, 0, true);
  if (!w) {
    TextError error = w.error();
    if (error.message.starts_with("expected a number")) {
      error.message = fmt::format("expected {}, found {}", with_article(expected), quoted(trimmed(text)));
      error.suggestion = fmt::format("write {} such as {}", with_article(expected), example_of(expected));
    }
    return error;
  }
  if (auto wrong = wrong_dimension(text, *w, expected)) return *wrong;
  const std::size_t end = skip_space(text, w->end);
  if (end < text.size()) return left_over(text, end);
  return w->quantity.si;
}

Parsed<Tolerance> parse_tolerance(std::string_view text, Dimension expected) {
  const auto t = tolerance_at(text, 0, true);
  if (!t) return t.error();
  const std::size_t end = skip_space(text, t->written.end);
  if (end < text.size()) return left_over(text, end);
  if (t->tolerance.is_relative) return t->tolerance;
  if (expected == ratio && !t->written.has_unit)
    return TextError{t->written.begin, fmt::format("the tolerance {} has no unit", text_of(text, t->written)),
                     fmt::format("write ± {:g} %", t->written.number)};
  if (auto wrong = wrong_dimension(text, t->written, expected)) return *wrong;
  return t->tolerance;
}

Parsed<Span> parse_span(std::string_view text) {
  const auto s = span_at(text, 0, true);
  if (!s) return s.error();
  if (s->end < text.size()) return left_over(text, s->end);
  return s->span;
}

Parsed<Span> parse_span(std::string_view text, Dimension expected) {
  const auto s = span_at(text, 0, true);
  if (!s) return s.error();
  if (auto wrong = wrong_dimension(text, s->first, expected)) return *wrong;
  if (s->end < text.size()) return left_over(text, s->end);
  return s->span;
}

Parsed<long long> parse_count(std::string_view text) {
  const std::string_view word = trimmed(text);
  const std::size_t begin = skip_space(text, 0);
  long long value = 0;
  const auto [stop, failed] = std::from_chars(word.data(), word.data() + word.size(), value);
  const bool whole = failed == std::errc{} && stop == word.data() + word.size() && value >= 0 && is_digit(word.front());
  if (!whole)
    return TextError{begin,
                     word.empty() ? "expected a whole number, found nothing"
                                  : fmt::format("expected a whole number, found {}", quoted(word)),
                     "write a whole number such as 64"};
  if (word.size() > 1 && word.front() == '0')
    return TextError{begin, fmt::format("the number {} has zeros in front", quoted(word)),
                     fmt::format("write {}; where a serial number is meant, it does not belong here", value)};
  return value;
}

Span span_about(AnyQuantity nominal, const Tolerance& tolerance) {
  const double half = tolerance.is_relative ? std::abs(nominal.si) * tolerance.half_width : tolerance.half_width;
  // What people wrote has few digits: 1.20 V + 10 % is 1.32 V, not what is left of it after two binary roundings.
  const auto written = [](double value) {
    const std::string text = fmt::format("{:.14g}", value);
    std::from_chars(text.data(), text.data() + text.size(), value);
    return value;
  };
  return Span{written(nominal.si - half), written(nominal.si + half), nominal.si, nominal.dimension, tolerance};
}

}  // namespace eyelevel::quantity
