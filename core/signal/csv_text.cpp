// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv_text.hpp"

#include <algorithm>
#include <charconv>
#include <limits>

namespace eyelevel::signal {

namespace {

constexpr std::string_view blanks = " \t\r";
constexpr std::size_t longest_number = 63;

}  // namespace

std::string_view trimmed(std::string_view text) {
  const std::size_t from = text.find_first_not_of(blanks);
  if (from == std::string_view::npos) return {};
  return text.substr(from, text.find_last_not_of(blanks) - from + 1);
}

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return out;
}

CsvLines::CsvLines(std::string_view text, std::size_t first_number) : rest_(text), number_(first_number) {
  const std::string_view begin = text.substr(0, longest);
  if (begin.find('\n') == std::string_view::npos && begin.find('\r') != std::string_view::npos) end_ = '\r';
}

bool CsvLines::next(std::string_view& line) {
  if (rest_.empty()) return false;
  const std::string_view reach = rest_.substr(0, longest);
  const std::size_t end = reach.find(end_);
  line = trimmed(reach.substr(0, end));
  rest_.remove_prefix(end == std::string_view::npos ? reach.size() : end + 1);
  if (!continues_) ++number_;
  continues_ = end == std::string_view::npos;
  return true;
}

char separator_in(std::string_view line) {
  for (const char c : {';', ',', '\t'}) {
    if (line.find(c) != std::string_view::npos) return c;
  }
  return ' ';
}

void CsvFields::split(std::string_view line, char separator) {
  count = 0;
  while (count < most) {
    std::size_t end = 0;
    if (line.starts_with('"')) end = std::min(line.find('"', 1), line.size());
    end = count + 1 < most ? line.find(separator, end) : std::string_view::npos;
    std::string_view field = trimmed(line.substr(0, end));
    if (field.size() > 1 && field.front() == '"' && field.back() == '"') {
      field = trimmed(field.substr(1, field.size() - 2));
    }
    text[count++] = field;
    if (end == std::string_view::npos) return;
    line.remove_prefix(end + 1);
    if (separator == ' ' || line.starts_with(' '))
      line.remove_prefix(std::min(line.find_first_not_of(' '), line.size()));
    if (line.empty()) return;
  }
}

std::uint64_t CsvFields::numbers(char decimal) {
  std::uint64_t mask = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const auto number = number_in(text[i], decimal);
    value[i] = number.value_or(0);
    mask |= std::uint64_t{number.has_value()} << i;
  }
  return mask;
}

bool CsvFields::has_text(char decimal) const {
  return std::any_of(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(count),
                     [&](std::string_view field) { return !field.empty() && !number_in(field, decimal); });
}

std::optional<double> number_in(std::string_view field, char decimal) {
  std::array<char, longest_number> pointed;
  if (decimal != '.') {
    if (field.size() > pointed.size() || field.find('.') != std::string_view::npos) return std::nullopt;
    std::replace_copy(field.begin(), field.end(), pointed.begin(), decimal, '.');
    field = {pointed.data(), field.size()};
  }
  if (field.size() > 1 && field[0] == '+' && field[1] != '-') field.remove_prefix(1);
  double value = 0;
  const auto [end, error] = std::from_chars(field.data(), field.data() + field.size(), value);
  if (field.empty() || end != field.data() + field.size()) return std::nullopt;
  // A number too small for a double is 0; from_chars does not tell it from one too large.
  if (error == std::errc::result_out_of_range) {
    const std::size_t exponent = field.find_first_of("eE");
    const bool is_small = exponent != std::string_view::npos ? field.substr(exponent + 1).starts_with('-')
                                                             : field.find_first_of("123456789") > field.find('.');
    return is_small ? 0.0 : std::numeric_limits<double>::infinity();
  }
  if (error != std::errc()) return std::nullopt;
  return value;
}

}  // namespace eyelevel::signal
