// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/date.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

TEST_CASE("date: only days that the calendar has", "[yaml]") {
  CHECK(yaml::is_date("2030-06-30"));
  CHECK(yaml::is_date("2028-02-29"));
  CHECK_FALSE(yaml::is_date("2030-02-29"));
  CHECK_FALSE(yaml::is_date("2030-6-30"));
  CHECK_FALSE(yaml::is_date("30.06.2030"));
  CHECK_FALSE(yaml::is_date("2030-13-01"));
  CHECK_FALSE(yaml::is_date("2030-00-01"));
  CHECK_FALSE(yaml::is_date(""));
}
