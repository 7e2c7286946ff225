// SPDX-License-Identifier: Apache-2.0
// Reading by type; together with check() in key_table_test.cpp.
#include "core/yaml/fields.hpp"

#include <catch2/catch.hpp>

#include "core/yaml/load.hpp"

using namespace eyelevel;

TEST_CASE("fields: a value is found by its key and read in SI units", "[yaml]") {
  const auto document = yaml::load_text("f.yaml", "rate: 20 MSa/s\nscreen: 0.6 V to 2.6 V\non: yes\n");
  const yaml::Fields fields(document.root);
  CHECK(fields.quantity("rate", quantity::sample_rate) == 20e6);
  CHECK(fields.span("screen", quantity::voltage)->low == 0.6);
  CHECK(fields.yes_no("on") == true);
  CHECK(fields.node("rate")->mark == yaml::Mark{1, 7});
  CHECK(fields.node("none") == nullptr);
}

TEST_CASE("fields: another dimension than the value's gives nothing", "[yaml]") {
  const auto document = yaml::load_text("f.yaml", "rate: 20 MSa/s\n");
  CHECK_FALSE(yaml::Fields(document.root).quantity("rate", quantity::time));
}
