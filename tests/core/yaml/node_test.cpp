// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/node.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

TEST_CASE("node: a place inside an unquoted text counts characters, not bytes", "[yaml]") {
  yaml::Node node;
  node.shape = yaml::Shape::text;
  node.text = "0 µV ± x";
  node.mark = {7, 10};
  node.is_plain = true;
  CHECK(node.mark_of(node.text.find('x')) == yaml::Mark{7, 17});
  CHECK(node.mark_of(999) == yaml::Mark{7, 18});
  node.is_plain = false;
  CHECK(node.mark_of(5) == yaml::Mark{7, 10});
}

TEST_CASE("node: a key is found by its name, or not at all", "[yaml]") {
  yaml::Node node;
  node.shape = yaml::Shape::map;
  node.entries.push_back({"within", {1, 1}, {}});
  CHECK(node.find("within") == &node.entries[0].value);
  CHECK(node.find("Within") == nullptr);
}
