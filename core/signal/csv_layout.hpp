// SPDX-License-Identifier: Apache-2.0
// Where the numbers of a CSV file begin and how they are written, told from its first lines: separator, decimal sign,
// which columns hold numbers. What the columns mean is csv_heading.hpp. A line of nothing but numbers is what most of
// the first lines agree on; everything above the first such line is heading, whatever it is.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "core/signal/csv_text.hpp"
#include "core/signal/stored.hpp"

namespace eyelevel::signal {

struct CsvLayout {
  CsvDialect dialect;
  std::uint64_t columns = 0;               // bit i: column i holds numbers
  std::vector<std::string_view> headings;  // lines above the numbers, without empty ones
  std::string_view body;                   // from the first line of numbers on
  std::size_t first_line = 0;              // its number, counted from 1

  std::size_t first_column() const;  // of those that hold numbers
  std::size_t column_count() const;
};

// Empty lines and lines that begin with # are no data. Throws Error(bad_input) with the line where there are no
// numbers.
CsvLayout find_csv_layout(std::string_view text, const ReadOptions& options);

}  // namespace eyelevel::signal
