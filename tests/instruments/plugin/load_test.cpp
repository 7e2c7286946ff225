// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/load.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/instruments/plugin/hostile.hpp"

using namespace eyelevel;
using Catch::Matchers::Contains;
namespace fs = std::filesystem;

TEST_CASE("load: a folder of plugins gives those that are right and says why the others are refused", "[plugin]") {
  const test::HostilePlugin good("good");
  const auto parent = good.parent.path();
  fs::create_directory(parent / "broken");
  test::write_text(parent / "broken" / "plugin.yaml", "plugin: broken\n");
  fs::create_directory(parent / "no plugin at all");
  test::write_text(parent / "README.md", "not a plugin");
  const auto loaded = plugin::load_all({parent}, true);
  REQUIRE(loaded.plugins.size() == 1);
  CHECK(loaded.plugins[0]->manifest.name == "hostile");
  CHECK(loaded.plugins[0]->parts.size() == 1);
  REQUIRE(loaded.refused.size() == 1);
  CHECK(loaded.refused[0].folder == parent / "broken");
  CHECK_THAT(loaded.refused[0].why, Contains("plugin.yaml:1:1:") && Contains("'form' is missing"));
}

TEST_CASE("load: a plugin whose program others may write is not started", "[plugin]") {
  const test::HostilePlugin hostile("good");
  fs::permissions(hostile.folder / "hostile_plugin.py", fs::perms(0777));
  CHECK_THROWS_WITH(plugin::load_one(hostile.folder), Contains("may be written by others"));
}

TEST_CASE("load: a folder that others may write is not looked into", "[plugin]") {
  const test::HostilePlugin hostile("good");
  fs::permissions(hostile.parent.path(), fs::perms(0777));
  const auto loaded = plugin::load_all({hostile.parent.path()}, true);
  CHECK(loaded.plugins.empty());
  REQUIRE(loaded.refused.size() == 1);
  CHECK_THAT(loaded.refused[0].why, Contains("may be written by others"));
  fs::permissions(hostile.parent.path(), fs::perms(0700));
}

TEST_CASE("load: of two plugins with one name the second is refused", "[plugin]") {
  const test::HostilePlugin first("good"), second("good");
  const auto loaded = plugin::load_all({first.parent.path(), second.parent.path()}, true);
  CHECK(loaded.plugins.size() == 1);
  REQUIRE(loaded.refused.size() == 1);
  CHECK_THAT(loaded.refused[0].why, Contains("was loaded from " + first.folder.string()));
}

TEST_CASE("load: a folder that is not there matters only when somebody named it", "[plugin]") {
  CHECK(plugin::load_all({"/nowhere/at/all"}, false).refused.empty());
  REQUIRE(plugin::load_all({"/nowhere/at/all"}, true).refused.size() == 1);
}
