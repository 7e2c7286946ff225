// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/parameter.hpp"

#include <charconv>
#include <cmath>
#include <limits>

#include "instruments/scpi/error.hpp"

namespace eyelevel::scpi {
namespace {

char upper(char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; }
bool is_lower(char c) { return c >= 'a' && c <= 'z'; }

std::string cut(std::string_view text) { return std::string(text.substr(0, 40)); }

constexpr std::size_t most_channels = 1000;

int channel_number(std::string_view& text) {
  int number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc() || number < 0) throw CommandError(-171, cut(text));
  text.remove_prefix(static_cast<std::size_t>(end - text.data()));
  return number;
}

void skip_space(std::string_view& text) {
  while (!text.empty() && static_cast<unsigned char>(text[0]) <= 0x20) text.remove_prefix(1);
}

}  // namespace

bool matches_spelling(std::string_view word, std::string_view spelling) {
  std::size_t short_length = 0;
  while (short_length < spelling.size() && !is_lower(spelling[short_length])) ++short_length;
  if (word.size() != spelling.size() && word.size() != short_length) return false;
  for (std::size_t i = 0; i < word.size(); ++i)
    if (upper(word[i]) != upper(spelling[i])) return false;
  return true;
}

std::string short_form(std::string_view spelling) {
  std::string out;
  for (const char c : spelling) {
    if (is_lower(c)) break;
    out += c;
  }
  return out;
}

double Parameter::number(Unit unit) const {
  if (type == ParameterType::decimal) return suffix.empty() ? value : value * suffix_factor(suffix, unit);
  if (type == ParameterType::non_decimal) return value;
  if (is_word("INFinity")) return std::numeric_limits<double>::infinity();
  if (is_word("NINFinity")) return -std::numeric_limits<double>::infinity();
  if (is_word("NAN")) return std::numeric_limits<double>::quiet_NaN();
  if (type == ParameterType::character) throw CommandError(-141, cut(raw));
  throw CommandError(-104, cut(raw));
}

double Parameter::number(Unit unit, const NumericLimits& limits) const {
  if (is_word("MINimum")) return limits.least;
  if (is_word("MAXimum")) return limits.most;
  if (is_word("DEFault")) return limits.usual;
  const double wanted = number(unit);
  // A decimal typed at the limit may differ by rounding of its suffix factor.
  const double slack = 1e-12 * std::max(std::abs(limits.least), std::abs(limits.most));
  if (!(wanted >= limits.least - slack && wanted <= limits.most + slack)) throw CommandError(-222, cut(raw));
  return std::min(std::max(wanted, limits.least), limits.most);
}

std::int64_t Parameter::integer(std::int64_t least, std::int64_t most) const {
  const double wanted = number(Unit::none);
  if (!(wanted >= static_cast<double>(least) - 0.5 && wanted < static_cast<double>(most) + 0.5))
    throw CommandError(-222, cut(raw));
  return static_cast<std::int64_t>(std::llround(wanted));
}

bool Parameter::boolean() const {
  if (is_word("ON")) return true;
  if (is_word("OFF")) return false;
  if (type == ParameterType::character) throw CommandError(-224, cut(raw));
  const double wanted = number(Unit::none);
  return std::isnan(wanted) || std::abs(wanted) >= 0.5;
}

std::size_t Parameter::choice(std::initializer_list<std::string_view> choices) const {
  if (type != ParameterType::character) throw CommandError(-104, cut(raw));
  std::size_t index = 0;
  for (const auto& spelling : choices) {
    if (matches_spelling(raw, spelling)) return index;
    ++index;
  }
  throw CommandError(-224, cut(raw));
}

bool Parameter::is_word(std::string_view spelling) const {
  return type == ParameterType::character && matches_spelling(raw, spelling);
}

std::string Parameter::text() const {
  if (type != ParameterType::string) throw CommandError(-104, cut(raw));
  std::string out;
  for (std::size_t i = 0; i < raw.size(); ++i) {
    out += raw[i];
    if (raw[i] == quote) ++i;  // the parser saw to it that it is doubled
  }
  return out;
}

std::string Parameter::name() const {
  if (type != ParameterType::character) throw CommandError(-104, cut(raw));
  std::string out;
  for (const char c : raw) out += upper(c);
  return out;
}

std::string_view Parameter::block() const {
  if (type != ParameterType::block) throw CommandError(-104, cut(raw));
  return raw;
}

std::vector<int> Parameter::channel_list() const {
  if (type != ParameterType::expression) throw CommandError(-104, cut(raw));
  std::string_view text = raw;
  skip_space(text);
  if (text.empty() || text[0] != '@') throw CommandError(-171, cut(raw));
  text.remove_prefix(1);
  std::vector<int> channels;
  for (;;) {
    skip_space(text);
    const int first = channel_number(text);
    int last = first;
    skip_space(text);
    if (!text.empty() && text[0] == ':') {
      text.remove_prefix(1);
      skip_space(text);
      last = channel_number(text);
      skip_space(text);
    }
    const int step = last >= first ? 1 : -1;
    for (int channel = first;; channel += step) {
      if (channels.size() >= most_channels) throw CommandError(-223, cut(raw));
      channels.push_back(channel);
      if (channel == last) break;
    }
    if (text.empty()) return channels;
    if (text[0] != ',') throw CommandError(-171, cut(raw));
    text.remove_prefix(1);
  }
}

}  // namespace eyelevel::scpi
