// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/nearest.hpp"

#include <catch2/catch.hpp>

#include <string>
#include <vector>

using namespace eyelevel;

TEST_CASE("nearest: one edit is a letter more, less, other, or two neighbours swapped", "[yaml]") {
  CHECK(yaml::edit_distance("prompt", "prompt") == 0);
  CHECK(yaml::edit_distance("promt", "prompt") == 1);
  CHECK(yaml::edit_distance("prrompt", "prompt") == 1);
  CHECK(yaml::edit_distance("prampt", "prompt") == 1);
  CHECK(yaml::edit_distance("porpmt", "prompt") == 2);
  CHECK(yaml::edit_distance("Prompt", "prompt") == 0);
  CHECK(yaml::edit_distance("", "abc") == 3);
  CHECK(yaml::edit_distance(std::string(5000, 'a'), std::string(5000, 'a')) == 0);
}

TEST_CASE("nearest: offered only when it is near", "[yaml]") {
  const std::vector<std::string> words{"prompt", "wait for", "capture", "measure"};
  CHECK(yaml::nearest("promt", words) == "prompt");
  CHECK(yaml::nearest("waitfor", words) == "wait for");
  CHECK(yaml::nearest("mesure", words) == "measure");
  CHECK_FALSE(yaml::nearest("adjust", words));
  CHECK_FALSE(yaml::nearest("", words));
}

TEST_CASE("nearest: a choice reads as a sentence", "[yaml]") {
  CHECK(yaml::one_of(std::vector<std::string>{"dc"}) == "'dc'");
  CHECK(yaml::one_of(std::vector<std::string>{"dc", "ac"}) == "'dc' or 'ac'");
  CHECK(yaml::one_of(std::vector<std::string>{"a", "b", "c"}) == "'a', 'b' or 'c'");
}
