// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/number.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>

#include "instruments/scpi/error.hpp"

using namespace eyelevel::scpi;

namespace {

double nrf(std::string_view text) {
  std::size_t used = 0;
  const double value = parse_nrf(text, used);
  CHECK(used == text.size());
  return value;
}

int nrf_error(const std::string& text) {
  std::size_t used = 0;
  try {
    parse_nrf(text, used);
  } catch (const CommandError& error) {
    return error.number();
  }
  return 0;
}

int suffix_error(std::string_view suffix, Unit unit) {
  try {
    suffix_factor(suffix, unit);
  } catch (const CommandError& error) {
    return error.number();
  }
  return 0;
}

}  // namespace

TEST_CASE("numbers: every form of NRf is understood", "[scpi]") {
  // IEEE 488.2, 7.7.2: the point may lead or trail, white space is allowed around E and after the sign.
  CHECK(nrf("12") == 12);
  CHECK(nrf("-12.5") == -12.5);
  CHECK(nrf("+.5") == 0.5);
  CHECK(nrf("5.") == 5);
  CHECK(nrf("1E3") == 1000);
  CHECK(nrf("1 e +3") == 1000);
  CHECK(nrf("1.25E-2") == 0.0125);
  CHECK(nrf("00012") == 12);
}

TEST_CASE("numbers: a unit after a number is not taken for an exponent", "[scpi]") {
  std::size_t used = 0;
  CHECK(parse_nrf("1 EXV", used) == 1);
  CHECK(used == 1);
  CHECK(parse_nrf("abc", used) == 0);
  CHECK(used == 0);
}

TEST_CASE("numbers: too many digits, too large an exponent and no digits have their own errors", "[scpi]") {
  CHECK(nrf_error("1E32000") == 0);
  CHECK(nrf_error("1E32001") == -123);
  CHECK(nrf_error("1E-99999999999999") == -123);
  CHECK(nrf_error(std::string(255, '1')) == 0);
  CHECK(nrf_error(std::string(256, '1')) == -124);
  CHECK(nrf_error("+") == -121);
  CHECK(nrf_error(".") == -121);
  CHECK(std::isinf(nrf("1E400")));
  CHECK(nrf("1E-400") == 0);
}

TEST_CASE("suffixes: multipliers of IEEE 488.2 Table 7-2, where MHZ and MOHM are mega", "[scpi]") {
  struct Row {
    const char* suffix;
    Unit unit;
    double factor;
  };
  const Row rows[] = {{"V", Unit::volt, 1},         {"mV", Unit::volt, 1e-3},     {"MAV", Unit::volt, 1e6},
                      {"uV", Unit::volt, 1e-6},     {"KV", Unit::volt, 1e3},      {"EXV", Unit::volt, 1e18},
                      {"MHZ", Unit::hertz, 1e6},    {"mhz", Unit::hertz, 1e6},    {"MAHZ", Unit::hertz, 1e6},
                      {"GHZ", Unit::hertz, 1e9},    {"MOHM", Unit::ohm, 1e6},     {"MS", Unit::second, 1e-3},
                      {"NS", Unit::second, 1e-9},   {"MIN", Unit::second, 60},    {"HR", Unit::second, 3600},
                      {"PS", Unit::second, 1e-12},  {"FF", Unit::farad, 1e-15},   {"AF", Unit::farad, 1e-18},
                      {"PCT", Unit::percent, 1e-2}, {"PPM", Unit::percent, 1e-6}, {"VPP", Unit::volt, 1},
                      {"TOHM", Unit::ohm, 1e12},    {"PEV", Unit::volt, 1e15},    {"MA", Unit::ampere, 1e-3}};
  for (const auto& row : rows) {
    CAPTURE(row.suffix);
    CHECK(suffix_factor(row.suffix, row.unit) == row.factor);
  }
}

TEST_CASE("suffixes: the wrong unit, too long a suffix and any suffix where none belongs", "[scpi]") {
  CHECK(suffix_error("S", Unit::volt) == -131);
  CHECK(suffix_error("XV", Unit::volt) == -131);
  CHECK(suffix_error("V", Unit::none) == -138);
  CHECK(suffix_error("VVVVVVVVVVVVV", Unit::volt) == -134);
}

TEST_CASE("NR3: a point and a signed exponent, special numbers as SCPI writes them", "[scpi]") {
  const auto text = [](double value, int digits) {
    std::string out;
    append_nr3(out, value, digits);
    return out;
  };
  CHECK(text(0.0012345, 5) == "1.2345E-03");
  CHECK(text(1, 2) == "1.0E+00");
  CHECK(text(5, 1) == "5.0E+00");
  // SCPI-99 Vol. 1, 7.2.1.4 and 7.2.1.5.
  CHECK(text(std::numeric_limits<double>::infinity(), 5) == "9.9E+37");
  CHECK(text(-std::numeric_limits<double>::infinity(), 5) == "-9.9E+37");
  CHECK(text(std::numeric_limits<double>::quiet_NaN(), 5) == "9.91E+37");
}

TEST_CASE("strings: the quote is doubled", "[scpi]") {
  std::string out;
  append_quoted(out, "say \"no\"");
  CHECK(out == "\"say \"\"no\"\"\"");
}
