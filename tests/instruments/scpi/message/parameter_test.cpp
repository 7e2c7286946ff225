// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/parameter.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "instruments/scpi/error.hpp"
#include "instruments/scpi/message/program_parser.hpp"

using namespace eyelevel::scpi;

namespace {

Parameter only(std::string_view message) {
  ProgramParser parser(message);
  ProgramUnit unit;
  REQUIRE(parser.next(unit));
  REQUIRE(unit.parameters.size() == 1);
  return unit.parameters[0];
}

template <class F>
int error_of(F call) {
  try {
    call();
  } catch (const CommandError& error) {
    return error.number();
  }
  return 0;
}

}  // namespace

TEST_CASE("parameters: numbers take their unit's suffix and the special words", "[scpi]") {
  const NumericLimits limits{0.001, 10, 2};
  CHECK(only("A 500 mV").number(Unit::volt) == Approx(0.5).epsilon(1e-15));
  CHECK(only("A #H10").number() == 16);
  CHECK(only("A MIN").number(Unit::volt, limits) == 0.001);
  CHECK(only("A maximum").number(Unit::volt, limits) == 10);
  CHECK(only("A DEF").number(Unit::volt, limits) == 2);
  CHECK(only("A 1MV").number(Unit::volt, limits) == 0.001);
  CHECK(std::isinf(only("A INF").number()));
  CHECK(std::isnan(only("A NAN").number()));
}

TEST_CASE("parameters: numbers out of range or of the wrong kind have their own errors", "[scpi]") {
  const NumericLimits limits{0, 10, 1};
  CHECK(error_of([&] { only("A 11").number(Unit::none, limits); }) == -222);
  CHECK(error_of([&] { only("A -1").number(Unit::none, limits); }) == -222);
  CHECK(error_of([&] { only("A INF").number(Unit::none, limits); }) == -222);
  CHECK(error_of([&] { only("A NAN").number(Unit::none, limits); }) == -222);
  CHECK(error_of([&] { only("A abc").number(Unit::none, limits); }) == -141);
  CHECK(error_of([&] { only("A \"1\"").number(Unit::none, limits); }) == -104);
  CHECK(error_of([&] { only("A 1 V").number(Unit::none, limits); }) == -138);
  CHECK(error_of([&] { only("A 1 S").number(Unit::volt, limits); }) == -131);
}

TEST_CASE("parameters: integers are rounded, as a listener must", "[scpi]") {
  // IEEE 488.2, 7.7.2: a listener rounds to its own resolution.
  CHECK(only("A 2.5001").integer(0, 10) == 3);
  CHECK(only("A 1E1").integer(0, 10) == 10);
  CHECK(error_of([] { only("A 10.5").integer(0, 10); }) == -222);
  CHECK(error_of([] { only("A 1E300").integer(0, 10); }) == -222);
}

TEST_CASE("parameters: Booleans are ON, OFF or a rounded number", "[scpi]") {
  CHECK(only("A ON").boolean());
  CHECK_FALSE(only("A off").boolean());
  CHECK(only("A 1").boolean());
  CHECK(only("A -7").boolean());
  CHECK_FALSE(only("A 0.4").boolean());
  CHECK(error_of([] { only("A MAYBE").boolean(); }) == -224);
}

TEST_CASE("parameters: choices match short and long forms only", "[scpi]") {
  CHECK(only("A neg").choice({"POSitive", "NEGative"}) == 1);
  CHECK(only("A POSITIVE").choice({"POSitive", "NEGative"}) == 0);
  CHECK(error_of([] { only("A POSI").choice({"POSitive", "NEGative"}); }) == -224);
  CHECK(error_of([] { only("A 1").choice({"POSitive", "NEGative"}); }) == -104);
}

TEST_CASE("parameters: strings, names, blocks and channel lists", "[scpi]") {
  CHECK(only("A 'it''s'").text() == "it's");
  CHECK(only("A \"x\"\"y\"").text() == "x\"y");
  CHECK(only("A trace1").name() == "TRACE1");
  CHECK(only("A #13a\nb").block() == "a\nb");
  // SCPI-99 Vol. 1, 8.3.2: ranges are inclusive.
  CHECK(only("A (@1,3,4:6)").channel_list() == std::vector<int>{1, 3, 4, 5, 6});
  CHECK(only("A (@ 3 : 1 )").channel_list() == std::vector<int>{3, 2, 1});
  CHECK(error_of([] { only("A (1)").channel_list(); }) == -171);
  CHECK(error_of([] { only("A (@1!2)").channel_list(); }) == -171);
  CHECK(error_of([] { only("A (@1:999999999)").channel_list(); }) == -223);
  CHECK(error_of([] { only("A 1").channel_list(); }) == -104);
  CHECK(error_of([] { only("A 1").text(); }) == -104);
  CHECK(error_of([] { only("A 1").block(); }) == -104);
}

TEST_CASE("spellings: capitals mark the short form", "[scpi]") {
  CHECK(matches_spelling("volt", "VOLTage"));
  CHECK(matches_spelling("VOLTAGE", "VOLTage"));
  CHECK_FALSE(matches_spelling("VOLTA", "VOLTage"));
  CHECK_FALSE(matches_spelling("", "VOLTage"));
  CHECK(short_form("GROund") == "GRO");
}
