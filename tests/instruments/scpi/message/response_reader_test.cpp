// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/message/response_reader.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "core/base/error.hpp"

using namespace eyelevel;
using namespace eyelevel::scpi;

TEST_CASE("reading: forgiving of what real instruments send", "[scpi]") {
  // IEEE 488.2 chapter 8: accept '+', lower case e, white space, integers as NR3, CR at the end.
  ResponseReader reader("+1.5e+03, 10000.0 ,on,\"a\"\"b\";#14x\n,y,-7\r");
  CHECK(reader.number() == 1500);
  CHECK(reader.integer(0, 20000) == 10000);
  CHECK(reader.character() == "ON");
  CHECK(reader.string() == "a\"b");
  CHECK(reader.at_unit_end());
  CHECK_FALSE(reader.at_end());
  reader.next_unit();
  CHECK(reader.block() == "x\n,y");
  CHECK(reader.number() == -7);
  CHECK(reader.at_end());
  reader.end();
}

TEST_CASE("reading: infinity and not-a-number as SCPI writes them", "[scpi]") {
  ResponseReader reader("9.9E37,-9.9E+37,9.91E37");
  const auto all = reader.numbers();
  REQUIRE(all.size() == 3);
  CHECK(all[0] == std::numeric_limits<double>::infinity());
  CHECK(all[1] == -std::numeric_limits<double>::infinity());
  CHECK(std::isnan(all[2]));
}

TEST_CASE("reading: what does not fit says byte, answer and expectation", "[scpi]") {
  try {
    ResponseReader reader("1.5,abc");
    reader.number();
    reader.number();
    FAIL("abc was read as a number");
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_answer);
    CHECK(error.record().received == "1.5,abc");
    CHECK(error.record().expected == "a number, not \"abc\"");
    CHECK(error.record().message == "the answer of 7 bytes cannot be read at byte 5");
  }
}

TEST_CASE("reading: every mismatch is an error, never a guess", "[scpi]") {
  CHECK_THROWS_AS(ResponseReader("").number(), base::Error);
  CHECK_THROWS_AS(ResponseReader("1e").number(), base::Error);
  CHECK_THROWS_AS(ResponseReader("inf").number(), base::Error);
  CHECK_THROWS_AS(ResponseReader("nan").number(), base::Error);
  CHECK_THROWS_AS(ResponseReader("1.5").integer(0, 9), base::Error);
  CHECK_THROWS_AS(ResponseReader("11").integer(0, 9), base::Error);
  CHECK_THROWS_AS(ResponseReader("2").boolean(), base::Error);
  CHECK_THROWS_AS(ResponseReader("\"abc").string(), base::Error);
  CHECK_THROWS_AS(ResponseReader("\"a\"b").string(), base::Error);
  CHECK_THROWS_AS(ResponseReader("#14abc").block(), base::Error);
  CHECK_THROWS_AS(ResponseReader("#13abcd").block(), base::Error);
  CHECK_THROWS_AS(ResponseReader("#0abc").block(), base::Error);
  CHECK_THROWS_AS(ResponseReader("#9999999999").block(), base::Error);
  CHECK_THROWS_AS(ResponseReader("a b").character(), base::Error);
  ResponseReader more("1,2");
  more.number();
  CHECK_THROWS_AS(more.end(), base::Error);
}

TEST_CASE("reading: arbitrary text is everything that is left", "[scpi]") {
  ResponseReader reader(" maker,model;x,0 \r");
  CHECK(reader.rest() == "maker,model;x,0");
  CHECK(reader.at_end());
}
