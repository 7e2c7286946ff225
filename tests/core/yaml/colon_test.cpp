// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/colon.hpp"

#include <catch2/catch.hpp>

#include <string>

using namespace eyelevel;

TEST_CASE("colon: missing, or without a space behind it", "[yaml]") {
  CHECK(yaml::colon_trouble("within 5 s").message == "'within 5 s' has no colon");
  CHECK(yaml::colon_trouble("within:5 s").message == "no space behind the colon in 'within:5 s'");
  CHECK(yaml::colon_trouble("within:5 s").suggestion == "write within: 5 s");
}

TEST_CASE("colon: the line before is blamed only when it stands in the same column and is no key", "[yaml]") {
  const auto blamed = [](const std::string& text) -> std::string {
    const auto found = yaml::line_without_colon_before(text, text.rfind(':'));
    return found ? std::string(yaml::line_at(text, *found)) : "nothing";
  };
  CHECK(blamed("a: 1\nwithin 5 s\nb: 2\n") == "within 5 s");
  CHECK(blamed("- prompt Insert disc  # why\n\n  # note\n  within: 10 min\n") == "prompt Insert disc");
  CHECK(blamed("a: 1\n  b: 2\n") == "nothing");
  CHECK(blamed("a:\nb: 2\n") == "nothing");
  CHECK(blamed("\"a\"\nb: 2\n") == "nothing");
  CHECK(blamed("b: 2\n") == "nothing");
  CHECK(blamed(":") == "nothing");
}

TEST_CASE("colon: places beyond the text are its end", "[yaml]") {
  CHECK_FALSE(yaml::line_without_colon_before("", 99));
  CHECK(yaml::line_at("abc", 99).empty());
}
