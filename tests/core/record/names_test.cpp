// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/names.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::record;

TEST_CASE("names: white space at the ends goes, everything else stays", "[record]") {
  CHECK(required_name("the serial", " LF2-00417\r\n") == "LF2-00417");
  CHECK(required_name("the serial", "LF2 00417/2 é#") == "LF2 00417/2 é#");
  CHECK(required_words("--because", "  ").empty());
}

TEST_CASE("names: what could change a terminal or hide in a list is refused", "[record]") {
  for (const std::string& bad :
       {std::string("LF2\x1b[31m"), std::string("LF2\0x", 5), std::string("LF2\n417"), std::string("LF2\x7f"),
        std::string("\xC2\x9B"
                    "31m"),
        std::string("\xE2\x80\xAE"
                    "417"),
        std::string("LF2\xE2\x80\x8B"),
        std::string("\xEF\xBB\xBF"
                    "LF2")}) {
    CAPTURE(shown(bad));
    CHECK_THROWS_WITH(required_name("the serial", bad), Catch::Contains("holds a control character"));
  }
  CHECK_THROWS_WITH(required_name("the serial", "LF2\xFF"), Catch::Contains("is not UTF-8"));
  CHECK_THROWS_WITH(required_name("the serial", " \t"), Catch::Contains("the serial is empty"));
}

TEST_CASE("names: length is counted in characters", "[record]") {
  std::string most;
  for (std::size_t i = 0; i < name_characters_max; ++i) most += "é";
  CHECK(required_name("the serial", most) == most);
  CHECK_THROWS_WITH(required_name("the serial", most + "x"), Catch::Contains("has 65 characters; at most 64 are kept"));
}

TEST_CASE("names: what is in a store already is shown escaped and cut", "[record]") {
  CHECK(shown("LF2-00417 é") == "LF2-00417 é");
  CHECK(shown(std::string("a\x1b[31m\0", 7)) == "a\\x1b[31m\\x00");
  CHECK(shown("\xE2\x80\xAE"
              "417") == "\\xe2\\x80\\xae417");
  CHECK(shown("abcdef", 4) == "abcd…");
  CHECK(shown("a\xFF") == "a\xEF\xBF\xBD");
}
