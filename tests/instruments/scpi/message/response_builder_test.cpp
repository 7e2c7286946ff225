// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/response_builder.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::scpi;

TEST_CASE("responses: elements by commas, units by semicolons, as a strict talker", "[scpi]") {
  // IEEE 488.2, 8.4 and 8.5.
  std::string out;
  ResponseBuilder response(out);
  CHECK_FALSE(response.waiting());
  response.begin_unit();
  response.character("norm");
  response.nr1(-3);
  response.begin_unit();
  response.nr2(1999.0, 1);
  response.nr3(0.5, 3);
  response.boolean(true);
  response.begin_unit();
  response.string("a\"b");
  CHECK(out == "NORM,-3;1999.0,5.00E-01,1;\"a\"\"b\"");
  CHECK(response.waiting());
}

TEST_CASE("responses: a unit that gave nothing leaves no separator", "[scpi]") {
  std::string out;
  ResponseBuilder response(out);
  response.begin_unit();
  response.begin_unit();
  response.nr1(1);
  CHECK(out == "1");
}

TEST_CASE("responses: a block is filled in place", "[scpi]") {
  std::string out;
  ResponseBuilder response(out);
  response.begin_unit();
  const auto block = response.block(4);
  std::copy_n("ab\nd", 4, block.begin());
  response.nr1(2);
  response.begin_unit();
  response.arbitrary("maker,model");
  CHECK(out == "#14ab\nd,2;maker,model");
}
