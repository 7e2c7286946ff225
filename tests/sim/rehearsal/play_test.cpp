// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/play.hpp"

#include <catch2/catch.hpp>

#include "core/record/books/pickup_book.hpp"
#include "core/record/books/unit_book.hpp"
#include "core/record/find_readings.hpp"
#include "core/yaml/load.hpp"
#include "tests/support/ready_plan.hpp"

using namespace eyelevel;

namespace {

// One bench whose probe loses a twentieth over night; the check unit is measured twice a day.
const char* const text =
    "week: days\nseed: 5\nsequence: a.yaml\nfirst day: 2030-05-13\ndays: 2\n"
    "benches: [ { name: one, reads more each day: -5 %, from day: 2 } ]\n"
    "people: [ { name: anna } ]\nunits: [ { count: 2, lot: 29-38 } ]\npickup part: LF-P2\n"
    "check unit: LF2-CHECK\n";

struct Played {
  Played() {
    const auto week = sim::read_week(yaml::load_text("w.yaml", text), sim::ready_troubles()).week;
    sim::play(week, ready.plan(1, 1), *store, [this](const auto&, const auto& unit) { units.push_back(unit); });
  }

  std::vector<record::ReadingRow> readings() const {
    record::ReadingQuery query;
    query.name = "level_pressed";
    return record::find_readings(*store, query);
  }

  const test::ReadyPlan ready{"pickup-level"};
  std::unique_ptr<record::Store> store = record::open_memory_store({.keep_captures = false});
  std::vector<sim::UnitOutcome> units;
};

}  // namespace

TEST_CASE("play: each run has the date, the bench, the person and the unit of the week", "[sim]") {
  const Played played;
  CHECK(played.units.size() == 6);
  const auto rows = played.readings();
  REQUIRE(rows.size() == 6);
  CHECK(rows.back().begun >= base::UtcTime(std::chrono::sys_days(std::chrono::year(2030) / 5 / 13)));
  CHECK(rows.back().begun < base::UtcTime(std::chrono::sys_days(std::chrono::year(2030) / 5 / 14)));
  CHECK(rows.front().bench == "one");
  CHECK(rows.front().operator_name == "anna");
  CHECK(std::count_if(rows.begin(), rows.end(), [](const auto& row) { return row.serial == "LF2-CHECK"; }) == 4);
  CHECK(std::count_if(rows.begin(), rows.end(), [](const auto& row) { return row.serial == "LF2-00001"; }) == 1);
}

TEST_CASE("play: a bench stays the same from unit to unit, but for its drift, and no measurement is another's copy",
          "[sim]") {
  const Played played;
  std::vector<double> check;
  for (const auto& row : played.readings())
    if (row.serial == "LF2-CHECK") check.push_back(row.value);
  REQUIRE(check.size() == 4);  // newest first
  CHECK(check[0] != check[1]);
  CHECK(check[0] == Approx(check[1]).epsilon(0.01));
  CHECK(check[2] == Approx(check[3]).epsilon(0.01));
  CHECK((check[0] + check[1]) / (check[2] + check[3]) == Approx(0.95).margin(0.01));
}

TEST_CASE("play: the books know each unit, and its pickup with part and lot", "[sim]") {
  const Played played;
  const auto unit = record::find_unit(*played.store, "LF2-00002", "");
  REQUIRE(unit);
  REQUIRE(unit->pickup);
  CHECK(unit->is_here());
  CHECK_FALSE(record::find_unit(*played.store, "LF2-CHECK", ""));
  const auto pickups = record::pickups_of(played.store->book({}));
  REQUIRE(pickups.size() == 2);
  CHECK(pickups[0].part == "LF-P2");
  CHECK(pickups[0].lot == "29-38");
}
