// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/header_tree.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "instruments/scpi/error.hpp"

using namespace eyelevel;
using namespace eyelevel::scpi;

namespace {

const std::vector<std::string> patterns{
    "[SENSe]:VOLTage[:DC]:RANGe[:UPPer]",
    "[SENSe]:VOLTage[:DC]:RESolution",
    "[SENSe]:VOLTage:AC:RANGe[:UPPer]",
    "[SENSe]:SWEep:POINts",
    "INITiate[:IMMediate][:ALL]",
    "TRIGger[:SEQuence]:SOURce",
    "TRIGger[:SEQuence][:IMMediate]",
    "FORMat[:DATA]",
    "FORMat:BORDer",
    "INPut<1-2>:COUPling",
    "INPut<1-2>:FILTer[:STATe]",
    "SYSTem:ERRor[:NEXT]?",
    "SYSTem:ERRor:ALL?",
    "*OPC",
    "*OPC?",
    "OUTPut<n>:PULSe<n>:WIDTh",
};

HeaderTree tree() {
  HeaderTree made;
  for (std::size_t i = 0; i < patterns.size(); ++i) made.add(patterns[i], i);
  return made;
}

// The patterns that a message means, or the number of the error that ends it.
std::string meaning(std::string_view message) {
  const auto known = tree();
  HeaderTree::Path path;
  ProgramParser parser(message);
  ProgramUnit unit;
  std::string all;
  try {
    while (parser.next(unit)) {
      const auto match = known.find(unit, path);
      if (!all.empty()) all += " ";
      all += patterns[match.command];
      for (const int suffix : match.suffixes) all += "/" + std::to_string(suffix);
    }
  } catch (const CommandError& error) {
    if (!all.empty()) all += " ";
    all += std::to_string(error.number());
  }
  return all;
}

}  // namespace

TEST_CASE("headers: the path rule of IEEE 488.2 appendix A decides what a unit after a semicolon means", "[scpi]") {
  const std::string range = "[SENSe]:VOLTage[:DC]:RANGe[:UPPer]";
  const std::string resolution = "[SENSe]:VOLTage[:DC]:RESolution";
  // The table of IEEE 488.2 7.6.1.5 and SCPI-99 Vol. 1, 6.2.4.
  CHECK(meaning("SENS:VOLT:RANG 1;RES 1E-6") == range + " " + resolution);
  CHECK(meaning("SENS:VOLT:RANG 1;*OPC;RES 1E-6") == range + " *OPC " + resolution);
  CHECK(meaning("SENS:VOLT:RANG 1;:INIT") == range + " INITiate[:IMMediate][:ALL]");
  CHECK(meaning("SENS:VOLT:RANG 1;VOLT:RES 1") == range + " -113");
  CHECK(meaning("SOUR IMM") == "-113");
  // Typed nodes only: after VOLT:RANG the current node is VOLTage, so the default node [:DC] and AC both resolve there.
  CHECK(meaning("VOLT:RANG 1;RES 1E-6") == range + " " + resolution);
  CHECK(meaning("VOLT:RANG 1;AC:RANG 2") == range + " [SENSe]:VOLTage:AC:RANGe[:UPPer]");
  // A first-level keyword leaves the path at the root; the other legal spelling names the default node.
  CHECK(meaning("FORM REAL,32;FORM:BORD SWAP") == "FORMat[:DATA] FORMat:BORDer");
  CHECK(meaning("FORM:DATA REAL,32;BORD SWAP") == "FORMat[:DATA] FORMat:BORDer");
}

TEST_CASE("headers: only the exact short and the exact long form are known, in any case mix", "[scpi]") {
  // SCPI-99 Vol. 1, 6.2.1.
  CHECK(meaning("sens:volt:dc:rang:upp 1") == patterns[0]);
  CHECK(meaning("SENSe:VOLTage:DC:RANGe:UPPer 1") == patterns[0]);
  CHECK(meaning("VoLtAgE:rAnGe 1") == patterns[0]);
  for (const char* wrong : {"VOLTA:RANG 1", "VOL:RANG 1", "SENSE:VOLTAG:RANG 1", "RANG 1"}) {
    CAPTURE(wrong);
    CHECK(meaning(wrong) == "-113");
  }
}

TEST_CASE("headers: optional nodes may be left out anywhere, also at the end", "[scpi]") {
  for (const char* form : {"INIT", "INIT:IMM", "INIT:ALL", "INITIATE:IMMEDIATE:ALL", ":INIT"}) {
    CAPTURE(form);
    CHECK(meaning(form) == "INITiate[:IMMediate][:ALL]");
  }
  CHECK(meaning("TRIG") == "TRIGger[:SEQuence][:IMMediate]");
  CHECK(meaning("TRIG:SOUR BUS") == "TRIGger[:SEQuence]:SOURce");
  CHECK(meaning("TRIG:SEQ:SOUR BUS") == "TRIGger[:SEQuence]:SOURce");
}

TEST_CASE("headers: numeric suffixes are kept along the path, missing means 1, out of range is -114", "[scpi]") {
  // SCPI-99 Vol. 1, 6.2.5.
  CHECK(meaning("INP2:COUP AC;FILT ON") == "INPut<1-2>:COUPling/2 INPut<1-2>:FILTer[:STATe]/2");
  CHECK(meaning("INPUT:COUP AC") == "INPut<1-2>:COUPling/1");
  CHECK(meaning("INPUT1:COUP AC") == "INPut<1-2>:COUPling/1");
  CHECK(meaning("INP3:COUP AC") == "-114");
  CHECK(meaning("INP0:COUP AC") == "-114");
  CHECK(meaning("OUTP4:PULS7:WIDT 1") == "OUTPut<n>:PULSe<n>:WIDTh/4/7");
  CHECK(meaning("OUTP:PULS7:WIDT 1") == "OUTPut<n>:PULSe<n>:WIDTh/1/7");
  CHECK(meaning("SWE2:POIN 5") == "-113");
}

TEST_CASE("headers: a command and its query are two things", "[scpi]") {
  CHECK(meaning("SYST:ERR?") == "SYSTem:ERRor[:NEXT]?");
  CHECK(meaning("SYST:ERR:ALL?") == "SYSTem:ERRor:ALL?");
  CHECK(meaning("SYST:ERR") == "-113");
  CHECK(meaning("INIT?") == "-113");
  CHECK(meaning("*OPC?") == "*OPC?");
  CHECK(meaning("*XYZ") == "-113");
}

TEST_CASE("headers: patterns that cannot be are our defect, told at once", "[scpi]") {
  HeaderTree made;
  made.add("INPut<1-2>:COUPling", 0);
  CHECK_THROWS_AS(made.add("INPut<1-2>:COUPling", 1), base::Error);
  CHECK_THROWS_AS(made.add("INPut<x>:TYPE", 1), base::Error);
  CHECK_THROWS_AS(made.add("INPut<5-2>:TYPE", 1), base::Error);
  CHECK_THROWS_AS(made.add("", 1), base::Error);
  CHECK_THROWS_AS(made.add("[INPut<1-2>]:TYPE", 1), base::Error);
}
