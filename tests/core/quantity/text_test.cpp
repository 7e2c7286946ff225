// SPDX-License-Identifier: Apache-2.0
// Every message for wrong text is compared in full.
#include "core/quantity/text.hpp"

#include <catch2/catch.hpp>

#include <string>
#include <vector>

using namespace eyelevel;
using quantity::Dimension;

namespace {

double si(std::string_view text, Dimension expected) {
  const auto parsed = quantity::parse_quantity(text, expected);
  INFO("text " << text << (parsed ? "" : ": " + parsed.error().message));
  REQUIRE(parsed);
  return *parsed;
}

template <class T>
std::string said(const quantity::Parsed<T>& parsed) {
  if (parsed) return "no mistake";
  return std::to_string(parsed.error().offset) + ": " + parsed.error().message + "; " + parsed.error().suggestion;
}

quantity::Span span(std::string_view text, Dimension expected) {
  const auto parsed = quantity::parse_span(text, expected);
  INFO("text " << text << (parsed ? "" : ": " + parsed.error().message));
  REQUIRE(parsed);
  return *parsed;
}

// One rounding in the conversion from decimal and one in the multiplication by the prefix.
Approx close_to(double value) { return Approx(value).epsilon(4e-16).margin(0); }

}  // namespace

TEST_CASE("quantity text: what a technician writes is read in SI units", "[quantity]") {
  struct Row {
    const char* text;
    Dimension dimension;
    double truth;
  };
  const std::vector<Row> rows{
      {"1.20 V", quantity::voltage, 1.2},
      {"-5 mV", quantity::voltage, -5e-3},
      {"\u22125 mV", quantity::voltage, -5e-3},
      {"0.5V", quantity::voltage, 0.5},
      {"45 s", quantity::time, 45},
      {"10 min", quantity::time, 600},
      {"500 us", quantity::time, 500e-6},
      {"500 \u00B5s", quantity::time, 500e-6},
      {"500 \u03BCs", quantity::time, 500e-6},
      {"500\u00A0\u00B5s", quantity::time, 500e-6},
      {"20 MSa/s", quantity::sample_rate, 20e6},
      {"20 MS/s", quantity::sample_rate, 20e6},
      {"600 kSa", quantity::samples, 600e3},
      {"600 k points", quantity::samples, 600e3},
      {"2500 points", quantity::samples, 2500},
      {"10 %", quantity::ratio, 0.1},
      {"50 ppm", quantity::ratio, 50e-6},
      {"x10", quantity::ratio, 10},
      {"\u00D710", quantity::ratio, 10},
      {"1e3 Hz", quantity::frequency, 1e3},
      {"12 pF", quantity::capacitance, 12e-12},
      {"1 k\u03A9", quantity::resistance, 1e3},
      {"10 M\u2126", quantity::resistance, 10e6},
      {"25 °C", quantity::temperature, 298.15},
      {"240 °", quantity::angle, 240},
      {"5 deg", quantity::angle, 5},
      {"45 mA", quantity::current, 45e-3},
      {"  1.20 V  ", quantity::voltage, 1.2},
  };
  for (const Row& row : rows) CHECK(si(row.text, row.dimension) == close_to(row.truth));
}

TEST_CASE("quantity text: with a prefix it is the same number as without", "[quantity]") {
  const std::pair<const char*, const char*> alike[] = {{"48.3 mA", "0.0483 A"},
                                                       {"4.7 us", "0.0000047 s"},
                                                       {"0.7 %", "0.007"},
                                                       {"33.3 pF", "33.3e-12 F"},
                                                       {"2.35 MHz", "2350000 Hz"}};
  for (const auto& [with, without] : alike) {
    INFO(with);
    CHECK(quantity::parse_quantity(with)->si == quantity::parse_quantity(without)->si);
  }
}

TEST_CASE("quantity text: mV is not MV", "[quantity]") {
  CHECK(si("1 MV", quantity::voltage) == 1e6);
  CHECK(si("1 mV", quantity::voltage) == 1e-3);
}

TEST_CASE("quantity text: without an expected dimension the unit decides", "[quantity]") {
  CHECK(*quantity::parse_quantity("20 MSa/s") == quantity::AnyQuantity{20e6, quantity::sample_rate});
  CHECK(*quantity::parse_quantity("64") == quantity::AnyQuantity{64, quantity::ratio});
}

TEST_CASE("quantity text: a missing unit is a mistake of its own", "[quantity]") {
  CHECK(said(quantity::parse_quantity("45", quantity::time)) ==
        "0: 45 has no unit, expected a time; write 45 s, 45 ms or 45 min");
  CHECK(said(quantity::parse_quantity("1.2", quantity::voltage)) ==
        "0: 1.2 has no unit, expected a voltage; write 1.2 V or 1.2 mV");
  CHECK(said(quantity::parse_quantity("20", quantity::sample_rate)) ==
        "0: 20 has no unit, expected a sample rate; write 20 MSa/s, 20 kSa/s or 20 Sa/s");
  CHECK(said(quantity::parse_quantity("600", quantity::samples)) ==
        "0: 600 has no unit, expected a number of samples; write 600 Sa or 600 kSa");
  CHECK(said(quantity::parse_quantity("25", quantity::temperature)) ==
        "0: 25 has no unit, expected a temperature; write 25 °C");
  CHECK(said(quantity::parse_quantity("12", quantity::capacitance)) ==
        "0: 12 has no unit, expected a capacitance; write 12 pF");
  CHECK(said(quantity::parse_quantity("5", quantity::angle)) == "0: 5 has no unit, expected an angle; write 5 °");
}

TEST_CASE("quantity text: a wrong dimension names both, and the likely slip", "[quantity]") {
  CHECK(said(quantity::parse_quantity("1.20 V", quantity::time)) ==
        "0: expected a time, found a voltage (1.20 V); write a time such as 45 s");
  CHECK(said(quantity::parse_quantity("20 MS", quantity::samples)) ==
        "0: expected a number of samples, found a conductance (20 MS); S alone is siemens; write 20 MSa");
  CHECK(said(quantity::parse_quantity("20 MHz", quantity::sample_rate)) ==
        "0: expected a sample rate, found a frequency (20 MHz); write 20 MSa/s");
  CHECK(said(quantity::parse_quantity("20 MSa/s", quantity::frequency)) ==
        "0: expected a frequency, found a sample rate (20 MSa/s); write 20 MHz");
  CHECK(said(quantity::parse_quantity("10 %", quantity::voltage)) ==
        "0: expected a voltage, found a ratio (10 %); write a voltage such as 1.20 V");
}

TEST_CASE("quantity text: what is no quantity is refused with the reason", "[quantity]") {
  CHECK(said(quantity::parse_quantity("", quantity::time)) ==
        "0: expected a time, found nothing; write a time such as 45 s");
  CHECK(said(quantity::parse_quantity("soon", quantity::time)) ==
        "0: expected a time, found 'soon'; write a time such as 45 s");
  CHECK(said(quantity::parse_quantity("inf V", quantity::voltage)) ==
        "0: expected a voltage, found 'inf V'; write a voltage such as 1.20 V");
  CHECK(said(quantity::parse_quantity("soon")) ==
        "0: expected a number, found 'soon'; begin with a number, then its unit");
  CHECK(said(quantity::parse_quantity("")) ==
        "0: expected a number, found nothing; begin with a number, then its unit");
  CHECK(said(quantity::parse_quantity("45 sec", quantity::time)) ==
        "3: unknown unit 'sec'; write s; units are case-sensitive");
  CHECK(said(quantity::parse_quantity("5 mv", quantity::voltage)) ==
        "2: unknown unit 'mv'; write mV or MV; units are case-sensitive");
  CHECK(said(quantity::parse_quantity("5 furlongs", quantity::voltage)) ==
        "2: unknown unit 'furlongs'; units are written like V, mV, s, ms, us, Hz, Sa/s, Sa, Ω, F, A, °C, %; mV is not "
        "MV");
  CHECK(said(quantity::parse_quantity("1,20 V", quantity::voltage)) ==
        "1: a comma inside the number '1,20'; write 1.20 with a point");
  CHECK(said(quantity::parse_quantity("1:30", quantity::time)) ==
        "0: '1:30' could be minutes and seconds or hours and minutes; write one number with its unit, such as 90 s or "
        "90 min");
  CHECK(said(quantity::parse_quantity("00417 s", quantity::time)) ==
        "0: the number '00417' has zeros in front; write 417; where a serial number is meant, it does not belong here");
  CHECK(said(quantity::parse_quantity("1e999 V", quantity::voltage)) ==
        "0: '1e999' is too large or too small for a number; use a prefix: 20 MSa/s instead of 20000000 Sa/s");
  CHECK(said(quantity::parse_quantity("1e308 GV", quantity::voltage)) ==
        "0: '1e308 GV' is too large; write a smaller one");
  CHECK(said(quantity::parse_quantity("45 s sharp", quantity::time)) ==
        "5: nothing may follow here, found 'sharp'; leave it out");
}

TEST_CASE("quantity text: a long wrong text is cut in the message", "[quantity]") {
  CHECK(said(quantity::parse_quantity(std::string(60, 'q'), quantity::time)) ==
        "0: expected a time, found '" + std::string(40, 'q') + "...'; write a time such as 45 s");
}

TEST_CASE("count: only whole numbers from 0 without zeros in front", "[quantity]") {
  CHECK(*quantity::parse_count("64") == 64);
  CHECK(*quantity::parse_count(" 0 ") == 0);
  CHECK(said(quantity::parse_count("6.5")) ==
        "0: expected a whole number, found '6.5'; write a whole number such as 64");
  CHECK(said(quantity::parse_count("-1")) == "0: expected a whole number, found '-1'; write a whole number such as 64");
  CHECK(said(quantity::parse_count("")) ==
        "0: expected a whole number, found nothing; write a whole number such as 64");
  CHECK(said(quantity::parse_count("99999999999999999999")) ==
        "0: expected a whole number, found '99999999999999999999'; write a whole number such as 64");
  CHECK(said(quantity::parse_count("007")) ==
        "0: the number '007' has zeros in front; write 7; where a serial number is meant, it does not belong here");
}

TEST_CASE("tolerance: relative or absolute, with ± or +/-", "[quantity]") {
  const auto relative = quantity::parse_tolerance("± 1.5 %", quantity::voltage);
  REQUIRE(relative);
  CHECK(relative->is_relative);
  CHECK(relative->half_width == close_to(0.015));
  const auto absolute = quantity::parse_tolerance("+/- 10 mV", quantity::voltage);
  REQUIRE(absolute);
  CHECK_FALSE(absolute->is_relative);
  CHECK(absolute->half_width == close_to(0.01));
  const auto parts = quantity::parse_tolerance("± 50 ppm", quantity::frequency);
  REQUIRE(parts);
  CHECK(parts->is_relative);
}

TEST_CASE("tolerance: mistakes", "[quantity]") {
  CHECK(said(quantity::parse_tolerance("", quantity::voltage)) ==
        "0: expected a tolerance, found nothing; write it like ± 10 % or ± 5 mV");
  CHECK(said(quantity::parse_tolerance("10 %", quantity::voltage)) ==
        "0: expected a tolerance, found '10 %'; write it like ± 10 % or ± 5 mV");
  CHECK(said(quantity::parse_tolerance("± -5 %", quantity::voltage)) ==
        "3: the tolerance -5 % is negative; write ± 5 and its unit");
  CHECK(said(quantity::parse_tolerance("± 5", quantity::voltage)) ==
        "3: 5 has no unit, expected a voltage; write 5 V or 5 mV");
  CHECK(said(quantity::parse_tolerance("± 5", quantity::ratio)) == "3: the tolerance 5 has no unit; write ± 5 %");
  CHECK(said(quantity::parse_tolerance("± 5 s", quantity::voltage)) ==
        "3: expected a voltage, found a time (5 s); write a voltage such as 1.20 V");
  CHECK(said(quantity::parse_tolerance("± 5 % of it", quantity::voltage)) ==
        "7: nothing may follow here, found 'of it'; leave it out");
}

TEST_CASE("span: about a nominal value", "[quantity]") {
  const auto level = span("1.20 V ± 10 %", quantity::voltage);
  CHECK(*level.low == close_to(1.08));
  CHECK(*level.high == close_to(1.32));
  CHECK(*level.nominal == close_to(1.2));
  const auto steady = span("0 mV +/- 5 mV", quantity::voltage);
  CHECK(*steady.low == close_to(-5e-3));
  CHECK(*steady.high == close_to(5e-3));
  const auto negative = span("-2 V ± 10 %", quantity::voltage);
  CHECK(*negative.low == close_to(-2.2));
  CHECK(*negative.high == close_to(-1.8));
}

TEST_CASE("span: its sides are the decimal numbers that were meant, to the last bit", "[quantity]") {
  CHECK(*span("1.20 V ± 10 %", quantity::voltage).high == 1.32);
  CHECK(*span("0.3 V ± 0.1 V", quantity::voltage).high == 0.4);
  CHECK(*span("560 mV ± 10 %", quantity::voltage).low == 0.504);
}

TEST_CASE("span: a tolerance in per cent of a value in per cent means per cent points", "[quantity]") {
  const auto asymmetry = span("0 % ± 20 %", quantity::ratio);
  CHECK(*asymmetry.low == close_to(-0.2));
  CHECK(*asymmetry.high == close_to(0.2));
}

TEST_CASE("span: a temperature's tolerance is a difference", "[quantity]") {
  const auto room = span("25 °C ± 5 °C", quantity::temperature);
  CHECK(*room.low == close_to(293.15));
  CHECK(*room.high == close_to(303.15));
}

TEST_CASE("span: from one value to another, at least, at most", "[quantity]") {
  const auto screen = span("0.6 V to 2.6 V", quantity::voltage);
  CHECK(*screen.low == close_to(0.6));
  CHECK(*screen.high == close_to(2.6));
  CHECK_FALSE(screen.nominal);
  const auto rate = span("at least 20 MSa/s", quantity::sample_rate);
  CHECK(*rate.low == 20e6);
  CHECK_FALSE(rate.high);
  const auto tries = span("at most 200", quantity::ratio);
  CHECK(*tries.high == 200);
  CHECK_FALSE(tries.low);
  CHECK(screen.contains(2.6));
  CHECK_FALSE(screen.contains(2.61));
  CHECK(rate.contains(1e9));
  CHECK_FALSE(rate.contains(19e6));
}

TEST_CASE("span: mistakes", "[quantity]") {
  CHECK(said(quantity::parse_span("1.20 V", quantity::voltage)) ==
        "0: expected a limit, found only '1.20 V'; write 1.20 V ± 10 %, 1.20 V to ..., at least 1.20 V or at most 1.20 "
        "V");
  CHECK(said(quantity::parse_span("1.20 V ± 0.1", quantity::voltage)) ==
        "10: the tolerance 0.1 has no unit; write ± 0.1 V or ± 0.1 %");
  CHECK(said(quantity::parse_span("50 % ± 5", quantity::ratio)) == "8: the tolerance 5 has no unit; write ± 5 %");
  CHECK(said(quantity::parse_span("1.20 V ± 5 ms", quantity::voltage)) ==
        "10: expected a voltage, found a time (5 ms); write a voltage such as 1.20 V");
  CHECK(said(quantity::parse_span("0 V ± 10 %", quantity::voltage)) ==
        "7: 10 % of zero is zero; write the tolerance as a voltage");
  CHECK(said(quantity::parse_span("0.6 to 2.6 V", quantity::voltage)) ==
        "0: 0.6 has no unit; write the unit of 2.6 V there too");
  CHECK(said(quantity::parse_span("0.6 V to 2.6", quantity::voltage)) ==
        "9: 2.6 has no unit, expected a voltage; write 2.6 V or 2.6 mV");
  CHECK(said(quantity::parse_span("2.6 V to 0.6 V", quantity::voltage)) ==
        "0: the range begins at 2.6 V and ends below it at 0.6 V; write 0.6 V to 2.6 V");
  CHECK(said(quantity::parse_span("at least 20 MHz", quantity::sample_rate)) ==
        "9: expected a sample rate, found a frequency (20 MHz); write 20 MSa/s");
  CHECK(said(quantity::parse_span("at least")) ==
        "0: expected a number, found 'at least'; begin with a number, then its unit");
  CHECK(said(quantity::parse_span("0.6 V to 2.6 V today", quantity::voltage)) ==
        "15: nothing may follow here, found 'today'; leave it out");
  CHECK(said(quantity::parse_span("5 mv ± 10 %", quantity::voltage)) ==
        "2: unknown unit 'mv'; write mV or MV; units are case-sensitive");
}

TEST_CASE("scan: a quantity at the beginning of a phrase ends where the words begin", "[quantity]") {
  const std::string each = "500 us long";
  const auto found = quantity::scan_quantity(each);
  REQUIRE(found);
  CHECK(found->value == quantity::AnyQuantity{500 * 1e-6, quantity::time});
  CHECK(each.substr(found->end) == "long");
  const std::string keep = "64 settled";
  const auto count = quantity::scan_quantity(keep);
  REQUIRE(count);
  CHECK(count->value == quantity::AnyQuantity{64, quantity::ratio});
  CHECK(keep.substr(count->end) == "settled");
}

TEST_CASE("scan: a span and a tolerance inside a phrase", "[quantity]") {
  const std::string screen = "0.6 V to 2.6 V at the probe tip";
  const auto found = quantity::scan_span(screen);
  REQUIRE(found);
  CHECK(*found->value.low == close_to(0.6));
  CHECK(screen.substr(found->end) == "at the probe tip");
  const std::string limit = "target ± 10 %";
  const auto tolerance = quantity::scan_tolerance(limit, 7);
  REQUIRE(tolerance);
  CHECK(tolerance->value.is_relative);
  CHECK(tolerance->end == limit.size());
}

TEST_CASE("scan: an offset beyond the text is nothing, not a fault", "[quantity]") {
  CHECK(said(quantity::scan_quantity("1 V", 99)) ==
        "3: expected a number, found nothing; begin with a number, then its unit");
  CHECK(said(quantity::scan_span("1 V", 99)) ==
        "3: expected a number, found nothing; begin with a number, then its unit");
  CHECK(said(quantity::scan_tolerance("1 V", 99)) ==
        "3: expected a tolerance, found nothing; write it like ± 10 % or ± 5 mV");
}
