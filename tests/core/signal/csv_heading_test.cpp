// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv_heading.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;
using signal::CsvQuantity;

namespace {

signal::CsvHeading heading_of(const std::string& lines, const std::string& body = "0,1.5\n1,2.5\n") {
  return signal::read_csv_heading(signal::find_csv_layout(lines + body, {}));
}

void check_unit(std::string_view label, CsvQuantity quantity, double factor, std::string_view text) {
  CAPTURE(label);
  const auto unit = signal::csv_unit_in(label);
  CHECK(unit.quantity == quantity);
  CHECK(unit.factor == factor);
  CHECK(unit.text == text);
}

}  // namespace

TEST_CASE("csv heading: units are found alone, in brackets, after a stroke and at the end of a name", "[signal]") {
  check_unit("s", CsvQuantity::time, 1, "s");
  check_unit("(ms)", CsvQuantity::time, 1e-3, "ms");
  check_unit("Time [us]", CsvQuantity::time, 1e-6, "us");
  check_unit("t in \xc2\xb5s", CsvQuantity::time, 1e-6, "us");
  check_unit("t/\xce\xbcs", CsvQuantity::time, 1e-6, "us");
  check_unit("\xb5s", CsvQuantity::time, 1e-6, "us");
  check_unit("time_s", CsvQuantity::time, 1, "s");
  check_unit("Second", CsvQuantity::time, 1, "");
  check_unit("Volt", CsvQuantity::voltage, 1, "V");
  check_unit("U/mV", CsvQuantity::voltage, 1e-3, "mV");
  check_unit("CH1 (mV)", CsvQuantity::voltage, 1e-3, "mV");
  check_unit("CH1", CsvQuantity::voltage, 1, "");
  check_unit("Zeit", CsvQuantity::time, 1, "");
  check_unit("CH2 (A)", CsvQuantity::other, 1, "A");
  check_unit("gain", CsvQuantity::unknown, 1, "");
  check_unit("", CsvQuantity::unknown, 1, "");
}

TEST_CASE("csv heading: the interval is found beside, behind a colon and below its name, as a rate, too", "[signal]") {
  // 50 ns = 20 MSa/s; the tolerance is one rounding.
  for (const char* heading : {"Sample Interval,5e-8\n", "Sample Interval,50,ns\n", "Sampling Period(uS):,0.05\n",
                              "Interval: 50 ns\n", "Sample Rate,20 MSa/s\n", "sample rate: 20000 kHz\n",
                              "Sampling rate,2e7,Hz\n", "X,CH1,Increment\n0,V,5e-8\n"}) {
    CAPTURE(heading);
    const auto found = heading_of(heading);
    REQUIRE(found.interval_s);
    CHECK(*found.interval_s == Approx(50e-9).epsilon(1e-12));
  }
  const auto comma = heading_of("Sampling rate: 20,0 MSa/s\n", "0,512\n0,498\n0,505\n");
  REQUIRE(comma.interval_s);
  CHECK(*comma.interval_s == Approx(50e-9).epsilon(1e-12));
  CHECK_FALSE(heading_of("Sample Interval,none\n").interval_s);
  CHECK_FALSE(heading_of("Sample Interval,0\n").interval_s);
  CHECK_FALSE(heading_of("Sample Rate,0\n").interval_s);
  CHECK_FALSE(heading_of("Time,CH1\n").interval_s);
}

TEST_CASE("csv heading: names and units of columns may stand in one line or two", "[signal]") {
  const auto two = heading_of("Time,CH1\nms,mV\n");
  CHECK(two.columns[0].text == "ms");
  CHECK(two.columns[1].text == "mV");
  const auto one = heading_of("Time (ms),CH1 (mV)\n");
  CHECK(one.columns[0].factor == 1e-3);
  CHECK(one.columns[1].factor == 1e-3);
  const auto keyed = heading_of("Vertical Units,mV\nHorizontal Units,us\nProbe,10\nDate,today\nBand,full\nTime,CH1\n");
  CHECK(keyed.columns[0].text == "us");
  CHECK(keyed.columns[1].text == "mV");
}

TEST_CASE("csv heading: lines that name no columns say nothing of them", "[signal]") {
  const auto found = heading_of("Record Length,2500\nProbe,10\nSample Interval,4e-8\n");
  CHECK(found.columns[0].quantity == CsvQuantity::unknown);
  CHECK(found.columns[1].quantity == CsvQuantity::unknown);
}
