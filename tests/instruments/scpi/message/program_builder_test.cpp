// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/program_builder.hpp"

#include <catch2/catch.hpp>

#include <limits>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "instruments/scpi/message/program_parser.hpp"

using namespace eyelevel;
using namespace eyelevel::scpi;

TEST_CASE("building: units are joined by semicolons and begin at the root", "[scpi]") {
  ProgramBuilder message;
  message.command("*RST").command("INPut<n>:COUPling", {2}).word("DC").query("SYSTem:ERRor?");
  CHECK(message.text() == "*RST;:INPut2:COUPling DC;:SYSTem:ERRor?");
}

TEST_CASE("building: optional nodes are left out, numbers take their places", "[scpi]") {
  ProgramBuilder message;
  message.command("[SENSe]:VOLTage<1-4>[:DC]:RANGe:PTPeak", {3}).number(2.5);
  CHECK(message.text() == ":VOLTage3:RANGe:PTPeak 2.5");
  message.clear();
  message.query("FETCh:ARRay:VOLTage[:DC]?").channel(1);
  CHECK(message.text() == ":FETCh:ARRay:VOLTage? (@1)");
  CHECK_THROWS_AS(message.command("INPut<n>:COUPling"), base::Error);
  CHECK_THROWS_AS(message.command("ABORt", {1}), base::Error);
}

TEST_CASE("building: every data type is written as the standard has it", "[scpi]") {
  ProgramBuilder message;
  message.command("A").boolean(true).integer(-7).string("say \"no\"").block("a\nb").number(1e-9);
  const int channels[] = {1, 3};
  message.channels(channels);
  CHECK(message.text() == ":A ON,-7,\"say \"\"no\"\"\",#13a\nb,1E-09,(@1,3)");
  message.clear();
  message.command("A").number(std::numeric_limits<double>::infinity());
  CHECK(message.text() == ":A 9.9E+37");
}

TEST_CASE("building: any number reads back the same", "[scpi]") {
  base::Random random(7, "numbers");
  for (int i = 0; i < 2000; ++i) {
    const double value = random.normal() * std::pow(10.0, random.uniform(-30, 30));
    ProgramBuilder message;
    message.command("A").number(value);
    ProgramParser parser(message.text());
    ProgramUnit unit;
    REQUIRE(parser.next(unit));
    REQUIRE(unit.parameters[0].number() == value);
  }
}
