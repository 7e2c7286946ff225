// SPDX-License-Identifier: Apache-2.0
#include "core/record/journal/json_text.hpp"

#include <boost/json/array.hpp>
#include <boost/json/object.hpp>

#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <string>

#include "core/base/error.hpp"
#include "core/base/random.hpp"

using namespace eyelevel::record;
namespace json = boost::json;

TEST_CASE("JSON text: keys keep their order, numbers their shortest form, and undefined ones become null", "[record]") {
  const json::value v = {{"b", 1.2}, {"a", {1, nullptr, true, "x\n"}}, {"c", std::nan("")}, {"e", json::object{}}};
  CHECK(text_of(v) == R"({"b":1.2,"a":[1,null,true,"x\n"],"c":null,"e":{}})");
  CHECK(
      text_of(v, Layout::indented) ==
      "{\n  \"b\": 1.2,\n  \"a\": [\n    1,\n    null,\n    true,\n    \"x\\n\"\n  ],\n  \"c\": null,\n  \"e\": {}\n}");
}

// Truth: IEEE 754 double has an exact shortest decimal form; tolerance zero.
TEST_CASE("JSON text: any double is read back as the same double", "[record]") {
  eyelevel::base::Random random(1);
  for (int i = 0; i < 20000; ++i) {
    const double d = std::ldexp(random.uniform(-1, 1), static_cast<int>(random.below(600)) - 300);
    REQUIRE(parse_json(text_of(json::array{d}), "number").get_array()[0].to_number<double>() == d);
  }
  for (const double d : {std::numeric_limits<double>::min(), std::numeric_limits<double>::denorm_min(), 1e23,
                         std::numeric_limits<double>::max(), 0.1, -0.0}) {
    CHECK(parse_json(text_of(d), "number").to_number<double>() == d);
  }
}

TEST_CASE("JSON text: integers of 64 bits keep every digit", "[record]") {
  CHECK(parse_json("18446744073709551615", "n").to_number<std::uint64_t>() == 18446744073709551615U);
  CHECK(parse_json("-9223372036854775808", "n").to_number<std::int64_t>() == std::numeric_limits<std::int64_t>::min());
}

TEST_CASE("JSON text: what is no JSON is refused by the name of the text", "[record]") {
  for (const std::string bad : {"", "{", "[1,]", "{} x", "\"\xff\"", "nan", "{\"a\":1"}) {
    CAPTURE(bad);
    CHECK_THROWS_WITH(parse_json(bad, "event 12"), Catch::StartsWith("event 12: this is no JSON"));
  }
  CHECK_THROWS_AS(parse_json(std::string(100, '[') + std::string(100, ']'), "deep"), eyelevel::base::Error);
}

// Unicode 15, section 3.9: well-formed byte sequences (table 3-7).
TEST_CASE("JSON text: bytes that are no UTF-8 are replaced one by one", "[record]") {
  const std::string good = "a\xC2\xB5\xE2\x82\xAC\xF0\x9F\x98\x80";
  CHECK(clean_utf8(good) == good);
  const std::string mark = "\xEF\xBF\xBD";
  CHECK(clean_utf8("\xff") == mark);
  CHECK(clean_utf8("\xC0\xAF") == mark + mark);                     // overlong
  CHECK(clean_utf8("\xED\xA0\x80") == mark + mark + mark);          // a surrogate
  CHECK(clean_utf8("x\xE2\x82") == "x" + mark + mark);              // cut off
  CHECK(clean_utf8("\xF4\x90\x80\x80").size() == 4 * mark.size());  // above U+10FFFF
}
