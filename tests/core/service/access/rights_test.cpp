// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/rights.hpp"

#include <catch2/catch.hpp>

using eyelevel::service::Right;
using eyelevel::service::Rights;

TEST_CASE("rights: what is printed is read back, in any order and with any spaces", "[service]") {
  const auto rights = Rights::read("operate,look");
  REQUIRE(rights);
  CHECK(rights->text() == "look, operate");
  CHECK(Rights::read(rights->text()) == rights);
  CHECK(Rights::read("")->is_empty());
  CHECK_FALSE(Rights::read("look, everything"));
}

TEST_CASE("rights: none brings another along, and both() holds what stands in both", "[service]") {
  const auto administer = *Rights::read("administer");
  CHECK(administer.has(Right::administer));
  CHECK_FALSE(administer.has(Right::look));
  CHECK(Rights::all().both(administer) == administer);
  CHECK(Rights::read("look, change")->both(*Rights::read("change, operate")).text() == "change");
}
