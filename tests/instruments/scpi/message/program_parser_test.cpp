// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/program_parser.hpp"

#include <catch2/catch.hpp>

#include "instruments/scpi/error.hpp"

using namespace eyelevel::scpi;

namespace {

// A readable form of what was understood: units joined by '|', "SENS:VOLT? D2.5V,W(on)".
std::string understood(std::string_view message) {
  ProgramParser parser(message);
  ProgramUnit unit;
  std::string out;
  try {
    while (parser.next(unit)) {
      if (!out.empty()) out += "|";
      if (unit.common) out += "*";
      if (unit.from_root) out += ":";
      for (std::size_t i = 0; i < unit.mnemonics.size(); ++i) {
        if (i > 0) out += ":";
        out += unit.mnemonics[i].word;
        if (unit.mnemonics[i].suffix >= 0) out += "<" + std::to_string(unit.mnemonics[i].suffix) + ">";
      }
      if (unit.query) out += "?";
      for (std::size_t i = 0; i < unit.parameters.size(); ++i) {
        const auto& p = unit.parameters[i];
        static const char* kinds = "WDNSBE";
        out += i == 0 ? " " : ",";
        out += kinds[static_cast<std::size_t>(p.type)];
        out += "(" + std::string(p.raw) + ")";
        if (!p.suffix.empty()) out += std::string(p.suffix);
      }
    }
  } catch (const CommandError& error) {
    if (!out.empty()) out += "|";
    out += std::to_string(error.number());
  }
  return out;
}

}  // namespace

TEST_CASE("program messages: headers, queries and units are told apart", "[scpi]") {
  CHECK(understood("*IDN?") == "*IDN?");
  CHECK(understood(":SENS:VOLT2:RANG:PTP 2") == ":SENS:VOLT<2>:RANG:PTP D(2)");
  CHECK(understood("*RST;*CLS") == "*RST|*CLS");
  CHECK(understood("  INIT ; *OPC \r\n") == "INIT|*OPC");
  CHECK(understood(";;INIT;") == "INIT");
  CHECK(understood("") == "");
  CHECK(understood("\n") == "");
}

TEST_CASE("program messages: every data type of IEEE 488.2 7.7", "[scpi]") {
  CHECK(understood("A ON,1.5 mV , -2E3") == "A W(ON),D(1.5)mV,D(-2E3)");
  CHECK(understood("A #HFF,#q17,#B101") == "A N(FF),N(17),N(101)");
  CHECK(understood("A \"x;y\",'it''s'") == "A S(x;y),S(it''s)");
  CHECK(understood("A #15a;,\nb,(@1,3,4:6)") == "A B(a;,\nb),E(@1,3,4:6)");
  CHECK(understood("A (1+(2*3))") == "A E(1+(2*3))");
  CHECK(understood("A #0rest;of it") == "A B(rest;of it)");
  CHECK(understood("FORM REAL,32;FORM:BORD SWAP") == "FORM W(REAL),D(32)|FORM:BORD W(SWAP)");
  CHECK(understood("TRIG:SOUR INT1") == "TRIG:SOUR W(INT1)");
}

TEST_CASE("program messages: non-decimal numbers have their value", "[scpi]") {
  ProgramParser parser("A #HfF,#Q17,#B101");
  ProgramUnit unit;
  REQUIRE(parser.next(unit));
  CHECK(unit.parameters[0].value == 255);
  CHECK(unit.parameters[1].value == 15);
  CHECK(unit.parameters[2].value == 5);
}

TEST_CASE("program messages: each mistake has the number of the standard", "[scpi]") {
  // SCPI-99 Vol. 2, 21.8, class -1xx.
  const std::pair<const char*, const char*> rows[] = {
      {"\x80", "-101"},
      {"A $", "-101"},
      {"A 1 2", "-103"},
      {"A 1,", "-102"},
      {"A ,1", "-102"},
      {"A:?", "-101"},
      {"A!", "-111"},
      {"*ESE?1", "-111"},
      {"ABCDEFGHIJKLM 1", "-112"},
      {"A ABCDEFGHIJKLM", "-144"},
      {"A1234567 1", "-114"},
      {"A #15abc", "-161"},
      {"A #3", "-161"},
      {"A #X12", "-161"},
      {"A \"abc", "-151"},
      {"A (@1", "-171"},
      {"A #HG", "-121"},
      {"A 12x4", "A D(12)x4"},
      {"A 1.2.3", "-121"},
      {"A 1E40000", "-123"},
      {"1", "-110"},
      {"A #B", "-121"},
      {"A (\"x\")", "-171"},
  };
  for (const auto& [message, expected] : rows) {
    CAPTURE(message);
    CHECK(understood(message) == expected);
  }
}

TEST_CASE("program messages: what follows a mistake is not looked at", "[scpi]") {
  CHECK(understood("INIT;A $;*RST") == "INIT|-101");
}
