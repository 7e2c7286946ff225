// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/standard_headers.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <set>

using eyelevel::scpi::header_completions;
using Lines = std::vector<std::string>;

TEST_CASE("standard headers: what was typed is completed mnemonic by mnemonic, optional nodes may be left out",
          "[scpi]") {
  CHECK(header_completions("*I") == Lines{"*IDN?"});
  CHECK(header_completions("*OP") == Lines{"*OPC", "*OPC?", "*OPT?"});
  CHECK(header_completions(":sens:vo") == Lines{":sens:VOLTage"});
  CHECK(header_completions("VOLT:RANG:P") == Lines{"VOLT:RANG:PTPeak", "VOLT:RANG:PTPeak?"});
  CHECK(header_completions("SENS1:VOLTAGE2:DC:RANG:P") ==
        Lines{"SENS1:VOLTAGE2:DC:RANG:PTPeak", "SENS1:VOLTAGE2:DC:RANG:PTPeak?"});
  CHECK(header_completions("ABOR") == Lines{"ABORt"});  // an event has no query
  CHECK(header_completions("SYST:VERS") == Lines{"SYST:VERSion?"});
}

TEST_CASE("standard headers: behind a semicolon the next header is completed, behind a header nothing", "[scpi]") {
  CHECK(header_completions("*RST; :FORM:B") == Lines{"*RST; :FORM:BORDer", "*RST; :FORM:BORDer?"});
  CHECK(header_completions("FORM ").empty());
  CHECK(header_completions("*IDN?").empty());
}

TEST_CASE("standard headers: what is neither the short nor the long form leads nowhere", "[scpi]") {
  CHECK(header_completions("VOLTA:RANG").empty());  // SCPI-99 Vol. 1, 6.2.1
  CHECK(header_completions("NONSENSE:").empty());
}

TEST_CASE("standard headers: at the beginning every root is offered once", "[scpi]") {
  const auto all = header_completions("");
  CHECK(std::find(all.begin(), all.end(), "SYSTem") != all.end());
  CHECK(std::find(all.begin(), all.end(), "VOLTage") != all.end());
  CHECK(std::set<std::string>(all.begin(), all.end()).size() == all.size());
}
