// SPDX-License-Identifier: Apache-2.0
// The table that reader, help and schema share: every row can be shown to a user.
#include <catch2/catch.hpp>

#include "core/bench/bench_file.hpp"
#include "core/bench/model_sheet.hpp"

using namespace eyelevel;

namespace {

// Examples of single values must be accepted by the parser that the row names.
void examples_hold(const yaml::KeyTable& table) {
  for (const yaml::Key& key : table.keys) {
    INFO(table.name << ", " << key.name);
    CHECK_FALSE(key.example.empty());
    if (key.inside) {
      examples_hold(*key.inside);
    } else if (key.type != yaml::Type::texts) {
      yaml::Node node;
      node.shape = yaml::Shape::text;
      node.text = key.example;
      yaml::Mistakes mistakes("example");
      CHECK(yaml::check_value(node, key, mistakes));
    }
  }
}

}  // namespace

TEST_CASE("model sheet table: the example of each key is right", "[bench]") {
  examples_hold(bench::model_sheet_table());
}

TEST_CASE("bench file table: the example of each key is right", "[bench]") { examples_hold(bench::bench_file_table()); }
