// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv_layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <optional>

#include "core/signal/detail/refusal.hpp"

namespace eyelevel::signal {

namespace {

// Not empty ones, and with what is empty no more bytes than they can have; a heading must end within.
constexpr std::size_t lines_looked_at = 256;
constexpr std::size_t bytes_looked_at = lines_looked_at * CsvLines::longest;

struct Line {
  std::string_view text;
  std::size_t number;
  const char* begin;  // where it lies in the file
};

// In order of preference where the lines allow several. The last is read where fields are quoted: "0,5","1,2".
constexpr std::array<CsvDialect, 8> dialects{
    {{';', '.'}, {'\t', '.'}, {',', '.'}, {' ', '.'}, {';', ','}, {'\t', ','}, {' ', ','}, {',', ','}}};

struct Body {
  CsvDialect dialect;
  std::uint64_t columns = 0;
  std::size_t lines = 0;  // that have numbers in these columns and nothing else
  std::size_t first = 0;  // index of the first of them
};

Body body_in(const std::vector<Line>& lines, CsvDialect dialect) {
  std::vector<Body> kinds;
  CsvFields fields;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    fields.split(lines[i].text, dialect.separator);
    const std::uint64_t columns = fields.numbers(dialect.decimal);
    if (columns == 0 || fields.has_text(dialect.decimal)) continue;
    auto kind = std::find_if(kinds.begin(), kinds.end(), [&](const Body& k) { return k.columns == columns; });
    if (kind == kinds.end()) kind = kinds.insert(kinds.end(), {dialect, columns, 0, i});
    ++kind->lines;
  }
  Body best{.dialect = dialect};
  for (const Body& kind : kinds) {
    if (kind.lines > best.lines) best = kind;
  }
  // Headings may stand in columns of their own, left of numbers that begin in the first line.
  const auto left = std::countr_zero(best.columns);
  while (best.lines > 0 && left > 0 && best.first > 0) {
    fields.split(lines[best.first - 1].text, dialect.separator);
    if (fields.numbers(dialect.decimal) >> left != best.columns >> left) break;
    --best.first;
  }
  return best;
}

// "0,512" is a decimal comma, not two columns, where the first number does not rise as a time would, and the second
// begins with a zero or always has the same three or more digits.
bool is_decimal_comma(const std::vector<Line>& lines, const Body& body) {
  if (body.dialect.separator != ',' || body.dialect.decimal != '.' || body.columns != 3 || body.lines < 2) return false;
  CsvFields fields;
  bool rises = true, has_zero = false, same = true;
  std::optional<double> before;
  std::size_t digits = 0;
  for (std::size_t i = body.first; i < lines.size(); ++i) {
    fields.split(lines[i].text, ',');
    if (fields.numbers('.') != 3) continue;
    const std::string_view part = fields.text[1].substr(0, fields.text[1].find_first_of("eE"));
    if (part.find_first_not_of("0123456789") != std::string_view::npos) return false;
    if (fields.text[0].find_first_not_of("+-0123456789") != std::string_view::npos) return false;
    const double first = *number_in(fields.text[0], '.');
    rises = rises && !(before && first <= *before);
    before = first;
    has_zero = has_zero || (part.size() > 1 && part[0] == '0');
    same = same && (digits == 0 || digits == part.size());
    digits = part.size();
  }
  return !rises && (has_zero || (same && digits >= 3));
}

Body best_body_in(const std::vector<Line>& lines) {
  Body best;
  for (const CsvDialect& dialect : dialects) {
    const Body body = body_in(lines, dialect);
    // A column of decimal commas would also take in the broken lines of "time,volts"; is_decimal_comma decides that.
    const bool is_column = dialect.decimal == ',' && std::has_single_bit(body.columns);
    if (is_column && best.dialect.separator == ',' && 2 * best.lines >= body.lines) continue;
    if (body.lines > best.lines || (body.lines == best.lines && body.first < best.first)) best = body;
  }
  return best;
}

std::vector<Line> first_lines(std::string_view text) {
  std::vector<Line> lines;
  CsvLines all(text.substr(0, bytes_looked_at));
  std::string_view line;
  const char* begin = text.data();
  while (lines.size() < lines_looked_at && all.next(line)) {
    if (!line.empty() && line[0] != '#') lines.push_back({line, all.number(), begin});
    begin = all.rest().data();
  }
  return lines;
}

void require_text(std::string_view text, const ReadOptions& options) {
  if (text.starts_with("\xff\xfe") || text.starts_with("\xfe\xff")) {
    detail::refuse({&options}, "is UTF-16 text", "save it again as UTF-8 or plain text");
  }
  const std::size_t zero = text.substr(0, 4096).find('\0');
  if (zero == std::string_view::npos) return;
  detail::refuse({&options}, fmt::format("byte {} is 0: is neither text nor .npy nor WAV", zero),
                 "for bare samples add --format and --rate");
}

}  // namespace

std::size_t CsvLayout::first_column() const { return static_cast<std::size_t>(std::countr_zero(columns)); }
std::size_t CsvLayout::column_count() const { return static_cast<std::size_t>(std::popcount(columns)); }

CsvLayout find_csv_layout(std::string_view text, const ReadOptions& options) {
  require_text(text, options);
  if (text.starts_with("\xef\xbb\xbf")) text.remove_prefix(3);
  if (trimmed(text).empty()) detail::refuse({&options}, "is empty", "expected lines of time,volts");
  const std::vector<Line> lines = first_lines(text);
  Body best = best_body_in(lines);
  if (best.lines == 0) {
    detail::Place place{&options};
    if (lines.empty()) detail::refuse(place, "holds no line of numbers", "expected lines of time,volts");
    place.line = lines.back().number;
    detail::refuse(place,
                   fmt::format("no line of numbers from line {} \"{}\" to here: is no waveform", lines.front().number,
                               base::escaped(lines.front().text, 40)),
                   "expected lines of time,volts");
  }
  if (is_decimal_comma(lines, best)) best = {{';', ','}, 1, best.lines, best.first};
  CsvLayout layout;
  layout.dialect = best.dialect;
  layout.columns = best.columns;
  layout.first_line = lines[best.first].number;
  layout.body = text.substr(static_cast<std::size_t>(lines[best.first].begin - text.data()));
  // Headings with the remarks among them.
  CsvLines above(text.substr(0, text.size() - layout.body.size()));
  for (std::string_view line; above.next(line);) {
    if (!line.empty()) layout.headings.push_back(line);
  }
  return layout;
}

}  // namespace eyelevel::signal
