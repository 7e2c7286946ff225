// SPDX-License-Identifier: Apache-2.0
// What the lines above the numbers of a CSV file say: which column is time, its unit, the unit of each channel, the
// sample interval or rate. Oscilloscopes head their files each in their own way, so this looks for words and units, not
// for a format; what is not found is empty and nothing is refused here.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/signal/csv_layout.hpp"

namespace eyelevel::signal {

enum class CsvQuantity { unknown, time, voltage, other };

struct CsvUnit {
  CsvQuantity quantity = CsvQuantity::unknown;
  double factor = 1;  // seconds or volts per number in the file
  std::string text;   // as it is printed: "us", "mV"; empty when unknown
};

struct CsvHeading {
  std::vector<CsvUnit> columns;  // by column of the file; unknown where no unit and no telling name was found
  std::optional<double> interval_s;
};

// "s", "(ms)", "CH1 [mV]", "U/mV", "t in us", "time_s", "Volt"; micro as u, as either Unicode sign, or in Latin-1. A
// name alone ("Time", "CH1") gives the quantity with an empty text.
CsvUnit csv_unit_in(std::string_view label);

CsvHeading read_csv_heading(const CsvLayout& layout);

}  // namespace eyelevel::signal
