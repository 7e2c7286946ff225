// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/mistake.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

TEST_CASE("mistake: printed as file, line, column, what is wrong, what would be right", "[yaml]") {
  yaml::Mistakes mistakes("a.yaml");
  mistakes.add({3, 5}, "unknown key 'withn' in prompt", "write 'within'");
  mistakes.add({4, 1}, "no suggestion here");
  mistakes.add({9, 2}, "taken as a comment", "put it in quotes", yaml::Severity::warning);
  CHECK(yaml::print(mistakes.list()[0]) == "a.yaml:3:5: unknown key 'withn' in prompt; write 'within'");
  CHECK(yaml::print(mistakes.list()[1]) == "a.yaml:4:1: no suggestion here");
  CHECK(yaml::print(mistakes.list()[2]) == "a.yaml:9:2: warning: taken as a comment; put it in quotes");
}

TEST_CASE("mistakes: warnings alone leave a file fine", "[yaml]") {
  yaml::Mistakes mistakes("a.yaml");
  CHECK(mistakes.fine());
  mistakes.add({1, 1}, "w", "", yaml::Severity::warning);
  CHECK(mistakes.fine());
  mistakes.add({1, 1}, "e");
  CHECK_FALSE(mistakes.fine());
  CHECK(yaml::name_of(mistakes.list()[0].severity) == "warning");
  CHECK(yaml::name_of(mistakes.list()[1].severity) == "error");
}
