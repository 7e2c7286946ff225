// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/phrase_table.hpp"

#include <catch2/catch.hpp>

#include <set>

#include "core/bench/bench_file.hpp"

using namespace eyelevel;

TEST_CASE("phrase table: every kind has keys of its own, each with help and an example", "[phrasebook]") {
  std::set<std::string> seen;
  for (const std::string& kind : bench::kinds()) {
    INFO(kind);
    const yaml::KeyTable table = phrasebook::phrasebook_table(kind);
    std::string names;
    for (const yaml::Key& key : table.keys) {
      CHECK_FALSE(key.help.empty());
      CHECK_FALSE(key.example.empty());
      names += key.name + ",";
    }
    CHECK(seen.insert(names).second);
    CHECK(table.find("kind")->choices == bench::kinds());
  }
}

TEST_CASE("phrase table: only what does something by itself must say how it is stopped", "[phrasebook]") {
  CHECK(phrasebook::phrasebook_table("oscilloscope").find("stop")->required);
  CHECK(phrasebook::phrasebook_table("multimeter").find("stop")->required);
  CHECK(phrasebook::phrasebook_table("counter").find("stop")->required);
  CHECK_FALSE(phrasebook::phrasebook_table("power supply").find("stop")->required);
  CHECK_FALSE(phrasebook::phrasebook_table("function generator").find("stop")->required);
  CHECK_FALSE(phrasebook::phrasebook_table("relay box").find("stop")->required);
}
