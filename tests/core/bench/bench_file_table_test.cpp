// SPDX-License-Identifier: Apache-2.0
#include "core/bench/bench_file_table.hpp"

#include <catch2/catch.hpp>

#include "core/bench/bench_file.hpp"

using namespace eyelevel;

TEST_CASE("bench file table: every kind has its own keys behind those of all", "[bench]") {
  for (const std::string& kind : bench::kinds()) {
    INFO(kind);
    const yaml::KeyTable table = bench::detail::instrument_table(kind);
    CHECK(table.name.ends_with(kind));
    REQUIRE(table.keys.size() > 4);
    CHECK(table.keys[0].name == "kind");
    CHECK(table.keys[0].choices == bench::kinds());
    CHECK(table.find("resource") != nullptr);
  }
}

TEST_CASE("bench file table: the table of all holds every key of every kind and asks for none of one kind only",
          "[bench]") {
  const yaml::KeyTable all = bench::bench_file_table();
  const yaml::Key* instruments = all.find("instruments");
  REQUIRE(instruments != nullptr);
  for (const std::string& kind : bench::kinds()) {
    for (const yaml::Key& key : bench::detail::instrument_table(kind).keys) {
      INFO(kind << ": " << key.name);
      const yaml::Key* found = instruments->inside->find(key.name);
      REQUIRE(found != nullptr);
      if (!key.inside) continue;
      for (const yaml::Key& inner : key.inside->keys) CHECK(found->inside->find(inner.name) != nullptr);
    }
  }
  CHECK(instruments->inside->find("resource")->required);
  CHECK_FALSE(instruments->inside->find("channels")->required);
  CHECK_FALSE(instruments->inside->find("outputs")->required);
}
