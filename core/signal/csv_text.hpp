// SPDX-License-Identifier: Apache-2.0
// The characters of a CSV file: lines (LF, CR LF or CR), fields with or without quotes, numbers with a point or a
// comma. What lines and columns mean is csv_layout.hpp and csv_heading.hpp. Numbers never depend on a locale.
// Everything is a view into the caller's text.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace eyelevel::signal {

std::string_view trimmed(std::string_view text);
std::string lower(std::string_view text);  // ASCII letters only

// A line longer than longest is given in pieces, so that a file without line ends is not looked through for one.
class CsvLines {
 public:
  static constexpr std::size_t longest = std::size_t{1} << 16;

  explicit CsvLines(std::string_view text, std::size_t first_number = 1);
  // The next line without its end and without blanks around it; false after the last.
  bool next(std::string_view& line);
  std::size_t number() const { return number_ - 1; }  // of the line that next() gave, counted from 1
  std::string_view rest() const { return rest_; }

 private:
  std::string_view rest_;
  char end_ = '\n';
  std::size_t number_;
  bool continues_ = false;  // what comes next is a piece of the same line
};

// Separator ' ' stands for any run of blanks. Separator and decimal sign may both be commas where fields are quoted.
struct CsvDialect {
  char separator = ',';
  char decimal = '.';
};

// The separator of a line that is no data: the first of semicolon, comma and tab that is in it, or a blank.
char separator_in(std::string_view line);

// Reused from line to line. Fields have no blanks around them and no quotes; an empty one after the last separator does
// not count, and what lies beyond the last of them is one field.
struct CsvFields {
  static constexpr std::size_t most = 64;
  std::array<std::string_view, most> text;
  std::array<double, most> value;
  std::size_t count = 0;

  void split(std::string_view line, char separator);
  std::uint64_t numbers(char decimal);  // bit i: field i is a number; sets value[i]
  bool has_text(char decimal) const;    // a field that is neither empty nor a number
};

// Infinity for numbers beyond a double; "nan" and "inf" are numbers here, which the reader of samples refuses.
std::optional<double> number_in(std::string_view field, char decimal);

}  // namespace eyelevel::signal
