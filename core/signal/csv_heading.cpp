// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv_heading.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace eyelevel::signal {

namespace {

constexpr std::size_t label_lines = 4;  // the names and units of columns stand this near to the numbers

struct UnitName {
  std::string_view name;
  CsvQuantity quantity;
  double factor;
  std::string_view text;
};

constexpr CsvQuantity time = CsvQuantity::time, voltage = CsvQuantity::voltage, other = CsvQuantity::other;
constexpr UnitName units[] = {
    {"s", time, 1, "s"},         {"S", time, 1, "s"},         {"sec", time, 1, "s"},      {"second", time, 1, "s"},
    {"seconds", time, 1, "s"},   {"ms", time, 1e-3, "ms"},    {"mS", time, 1e-3, "ms"},   {"us", time, 1e-6, "us"},
    {"uS", time, 1e-6, "us"},    {"ns", time, 1e-9, "ns"},    {"nS", time, 1e-9, "ns"},   {"ps", time, 1e-12, "ps"},
    {"V", voltage, 1, "V"},      {"v", voltage, 1, "V"},      {"volt", voltage, 1, "V"},  {"Volt", voltage, 1, "V"},
    {"volts", voltage, 1, "V"},  {"Volts", voltage, 1, "V"},  {"VOLT", voltage, 1, "V"},  {"mV", voltage, 1e-3, "mV"},
    {"mv", voltage, 1e-3, "mV"}, {"uV", voltage, 1e-6, "uV"}, {"kV", voltage, 1e3, "kV"}, {"A", other, 1, "A"},
    {"mA", other, 1, "mA"},      {"W", other, 1, "W"},        {"dB", other, 1, "dB"},     {"dBm", other, 1, "dBm"},
    {"dBV", other, 1, "dBV"},    {"Ohm", other, 1, "Ohm"},    {"Hz", other, 1, "Hz"}};

// Micro signs become u: U+00B5, U+03BC, and the Latin-1 byte alone.
std::string with_plain_micro(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text.substr(i).starts_with("\xc2\xb5") || text.substr(i).starts_with("\xce\xbc")) {
      out += 'u';
      ++i;
    } else {
      out += text[i] == '\xb5' ? 'u' : text[i];
    }
  }
  return out;
}

CsvUnit unit_named(std::string_view name) {
  const auto unit = std::find_if(std::begin(units), std::end(units), [&](const UnitName& u) { return u.name == name; });
  if (unit == std::end(units)) return {};
  return {unit->quantity, unit->factor, std::string(unit->text)};
}

CsvQuantity quantity_of_name(std::string_view label) {
  const std::string name = lower(label);
  for (const std::string_view word :
       {"time", "zeit", "temps", "tiempo", "tempo", "tijd", "second", "x-axis", "x axis"}) {
    if (name.starts_with(word)) return time;
  }
  if (name == "t" || name == "x") return time;
  for (const std::string_view word : {"ch", "kanal", "voie", "canal", "volt", "ampl", "spannung"}) {
    if (name.starts_with(word)) return voltage;
  }
  return CsvQuantity::unknown;
}

bool contains_any(std::string_view text, std::initializer_list<std::string_view> words) {
  return std::any_of(words.begin(), words.end(), [&](auto word) { return text.find(word) != std::string_view::npos; });
}

enum class Key { none, interval, rate };

Key key_in(std::string_view field) {
  const std::string name = lower(trimmed(field));
  if (contains_any(name, {"interval", "increment", "xincr", "sample period", "sampling period", "time per sample",
                          "delta t", "delta_t", "deltat"}) ||
      name == "dt") {
    return Key::interval;
  }
  if (contains_any(name, {"sample rate", "sample_rate", "samplerate", "sampling rate", "samplingrate", "abtastrate",
                          "sampling freq", "sample freq", "rate_hz", "samples/s", "samples per second"})) {
    return Key::rate;
  }
  return Key::none;
}

// Units of a rate, per second.
std::optional<double> rate_factor(std::string_view unit) {
  double prefix = 1;
  if (unit.size() > 2 && !unit.starts_with("Sa")) {
    if (unit[0] == 'k' || unit[0] == 'K') prefix = 1e3;
    if (unit[0] == 'M') prefix = 1e6;
    if (unit[0] == 'G') prefix = 1e9;
    if (prefix > 1) unit.remove_prefix(1);
  }
  const std::string name = lower(unit);
  if (name == "hz" || name == "sa/s" || name == "s/s" || name == "sps" || name == "samples/s") return prefix;
  return std::nullopt;
}

struct Amount {
  double value;
  std::string rest;  // what follows the number
};

std::optional<Amount> amount_in(std::string_view field, char decimal) {
  const std::size_t end = std::min(field.find_first_not_of("+-.,0123456789eE"), field.size());
  if (const auto value = number_in(trimmed(field.substr(0, end)), decimal)) {
    return Amount{*value, std::string(trimmed(field.substr(end)))};
  }
  return std::nullopt;
}

std::string bracketed(std::string_view label) {
  for (const auto& [open, close] : {std::pair{'(', ')'}, std::pair{'[', ']'}}) {
    const std::size_t from = label.rfind(open);
    if (from == std::string_view::npos) continue;
    const std::size_t to = label.find(close, from);
    if (to != std::string_view::npos) return std::string(trimmed(label.substr(from + 1, to - from - 1)));
  }
  return {};
}

// The interval that key, number and unit give; the unit stands behind the number, in the next field, or in the key.
std::optional<double> interval_of(Key key, std::string_view name, const Amount& amount, std::string_view next) {
  double value = amount.value;
  for (const std::string& unit :
       {with_plain_micro(amount.rest), with_plain_micro(next), bracketed(with_plain_micro(name))}) {
    if (unit.empty()) continue;
    const CsvUnit as_time = unit_named(unit);
    if (key == Key::interval && as_time.quantity == time)
      value *= as_time.factor;
    else if (const auto factor = rate_factor(unit); key == Key::rate && factor)
      value *= *factor;
    else
      continue;
    break;
  }
  const double interval_s = key == Key::interval ? value : 1 / value;
  if (!(interval_s > 0) || !std::isfinite(interval_s) || !std::isfinite(1 / interval_s)) return std::nullopt;
  return interval_s;
}

class HeadingReader {
 public:
  explicit HeadingReader(const CsvLayout& layout) : layout_(layout) { out_.columns.resize(CsvFields::most); }

  CsvHeading read() {
    for (std::size_t i = 0; i < layout_.headings.size(); ++i) {
      split(i, fields_);
      for (std::size_t k = 0; k < fields_.count; ++k) look_for_interval(i, k);
    }
    const std::size_t lines = layout_.headings.size();
    for (std::size_t i = lines; i > 0; --i) {
      split(i - 1, fields_);
      if (!read_unit_key() && lines - i < label_lines) read_labels();
    }
    return std::move(out_);
  }

 private:
  void split(std::size_t i, CsvFields& into) const {
    std::string_view line = layout_.headings[i];
    if (line.starts_with('#') || line.starts_with('%')) line = trimmed(line.substr(1));
    const char own = layout_.dialect.separator;
    into.split(line, layout_.column_count() > 1 && line.find(own) != std::string_view::npos
                         ? own
                         : separator_in_heading(line));
  }
  // Blanks are part of names, and commas of numbers where they are the decimal sign.
  char separator_in_heading(std::string_view line) const {
    const char separator = separator_in(line);
    return separator == ' ' || separator == layout_.dialect.decimal ? '\n' : separator;
  }

  void look_for_interval(std::size_t i, std::size_t k) {
    const std::string_view field = fields_.text[k];
    const std::size_t colon = field.find_first_of(":=");
    const std::string_view name = field.substr(0, colon);
    const Key key = key_in(name);
    if (key == Key::none || out_.interval_s) return;
    std::string_view inside = colon == std::string_view::npos ? std::string_view() : trimmed(field.substr(colon + 1));
    const char decimal = layout_.dialect.decimal;
    std::string_view after = k + 1 < fields_.count ? fields_.text[k + 1] : std::string_view();
    if (const auto amount = amount_in(inside, decimal)) {
      out_.interval_s = interval_of(key, name, *amount, {});
    } else if (const auto beside = amount_in(after, decimal)) {
      out_.interval_s =
          interval_of(key, name, *beside, k + 2 < fields_.count ? fields_.text[k + 2] : std::string_view());
    } else if (i + 1 < layout_.headings.size()) {
      CsvFields below;
      split(i + 1, below);
      if (k >= below.count) return;
      if (const auto amount_below = amount_in(below.text[k], decimal)) {
        out_.interval_s = interval_of(key, name, *amount_below, {});
      }
    }
  }

  // "Vertical Units,V": says the unit of a direction, not of the columns it stands in.
  bool read_unit_key() {
    const std::string name = lower(fields_.text[0]);
    if (fields_.count < 2 || name.find("unit") == std::string::npos) return false;
    const CsvUnit unit = csv_unit_in(fields_.text[1]);
    for (std::size_t column = layout_.first_column(); column < CsvFields::most; ++column) {
      if ((layout_.columns >> column & 1) == 0 || !out_.columns[column].text.empty()) continue;
      const bool is_first = column == layout_.first_column() && layout_.column_count() > 1;
      if (unit.quantity == (is_first ? time : voltage)) out_.columns[column] = unit;
    }
    return true;
  }

  // A line with a word above every column of numbers.
  void read_labels() {
    for (std::size_t column = 0; column < CsvFields::most; ++column) {
      if ((layout_.columns >> column & 1) == 0) continue;
      if (column >= fields_.count || fields_.text[column].empty()) return;
      if (number_in(fields_.text[column], layout_.dialect.decimal) || key_in(fields_.text[column]) != Key::none) return;
    }
    for (std::size_t column = 0; column < fields_.count; ++column) {
      CsvUnit& held = out_.columns[column];
      const CsvUnit found = csv_unit_in(fields_.text[column]);
      if (held.quantity == CsvQuantity::unknown || (held.text.empty() && held.quantity == found.quantity)) held = found;
    }
  }

  const CsvLayout& layout_;
  CsvHeading out_;
  CsvFields fields_;
};

}  // namespace

CsvUnit csv_unit_in(std::string_view label) {
  const std::string text = with_plain_micro(trimmed(label));
  for (const std::string& candidate :
       {bracketed(text), text, text.substr(text.find_last_of('/') + 1), text.substr(text.find_last_of("_ ") + 1)}) {
    const CsvUnit unit = unit_named(candidate);
    if (unit.quantity != CsvQuantity::unknown) return unit;
  }
  return {quantity_of_name(text), 1, {}};
}

CsvHeading read_csv_heading(const CsvLayout& layout) { return HeadingReader(layout).read(); }

}  // namespace eyelevel::signal
