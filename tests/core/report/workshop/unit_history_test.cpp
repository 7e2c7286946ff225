// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/unit_history.hpp"

#include <catch2/catch.hpp>

#include "tests/core/report/workshop/played.hpp"
#include "tests/support/measurement_data.hpp"

using namespace eyelevel;
using namespace eyelevel::report::workshop;
using test::example;
using test::number;
using test::numbers;

namespace {

// A visit every 500 h or as told, a week apart; level and current in the same run, newest first.
struct Visits {
  std::vector<double> hours, currents, levels;

  std::vector<record::ReadingRow> rows() const {
    std::vector<record::ReadingRow> list;
    for (std::size_t i = 0; i < hours.size(); ++i) {
      record::ReadingRow row;
      row.begun = test::played_hour(168 * i + 1);
      row.run = "run " + std::to_string(i);
      row.name = "level_pressed";
      row.unit = "V";
      row.value = levels.empty() ? 1.2 : levels[i];
      row.expanded_uncertainty = 0.02;
      row.limit = metrology::Limit{1.08, 1.32};
      row.judgement = metrology::judge(row.value, 0.02, *row.limit);
      list.insert(list.begin(), row);
      row.name = "laser_current";
      row.unit = "A";
      row.value = currents[i];
      row.expanded_uncertainty = 0.0002;
      row.limit.reset();
      row.judgement.reset();
      list.insert(list.begin(), row);
    }
    return list;
  }
  UnitFacts facts(std::optional<bool> loop = true, std::optional<double> limit = 0.054) const {
    UnitFacts facts;
    facts.serial = "LF2-00417";
    facts.model = "LF-2";
    for (std::size_t i = 0; i < hours.size(); ++i) facts.hours.push_back({test::played_hour(168 * i), hours[i]});
    facts.has_power_loop = loop;
    facts.current_limit_a = limit;
    facts.limit_from = "the label's 45 mA and 20 %, common practice";
    return facts;
  }
};

std::string joined(const std::vector<std::string>& lines) {
  std::string all;
  for (const std::string& line : lines) all += line + "\n";
  return all;
}

}  // namespace

// examples.json "life_trend_to_limit" (made up, computed there): 8 visits over 4000 h, a level that falls to its limit
// at 6878 h, 6421 h to 7393 h for the next reading. Turned over into a current that rises by 50 mA for each volt: where
// a line and its bands meet a limit does not change with the scale.
TEST_CASE("unit history: with a power loop life is read from the current, with its interval", "[report]") {
  const auto inputs = example("life_trend_to_limit").at("inputs");
  Visits visits;
  visits.hours = numbers(inputs.at("hours"));
  const auto current_of = [](double level_v) { return 0.045 + 0.05 * (1.2 - level_v); };
  for (const double level : numbers(inputs.at("level_v"))) visits.currents.push_back(current_of(level));
  const auto history = history_of(visits.rows(), visits.facts(true, current_of(number(inputs.at("limit_v")))));
  REQUIRE(history.life);
  CHECK(history.life->hours_to_limit == Approx(6878).margin(0.5));
  CHECK(history.life->of_next_reading.low == Approx(6421).margin(0.5));
  CHECK(history.life->of_next_reading.high == Approx(7393).margin(0.5));
  const std::string told = joined(history.sentences);
  CHECK_THAT(told, Catch::Contains("at about 6878 h") && Catch::Contains("from 6421 h on") &&
                       Catch::Contains("common practice"));
  CHECK(to_json(history).at("life").at("at_h").as_double() == Approx(6878).margin(0.5));
}

TEST_CASE("unit history: without a power loop, or where nobody told, life is not known", "[report]") {
  const Visits visits{{0, 500, 1000, 1500}, {0.045, 0.046, 0.047, 0.048}, {}};
  CHECK_THAT(joined(history_of(visits.rows(), visits.facts(false)).sentences),
             Catch::Contains("Life is not known: without a power loop"));
  CHECK_THAT(joined(history_of(visits.rows(), visits.facts(std::nullopt)).sentences),
             Catch::Contains("nobody said whether this model has a power loop"));
  CHECK_THAT(joined(history_of(visits.rows(), visits.facts(true, std::nullopt)).sentences),
             Catch::Contains("neither the pickup's label current nor a limit"));
  CHECK(to_json(history_of(visits.rows(), visits.facts(false))).at("life").is_null());
}

TEST_CASE("unit history: two visits, or visits without hours, are too few, and that is said", "[report]") {
  const Visits two{{0, 500}, {0.045, 0.046}, {}};
  CHECK_THAT(joined(history_of(two.rows(), two.facts()).sentences),
             Catch::Contains("2 readings are too few for a trend"));
  const Visits three{{0, 500, 1000}, {0.045, 0.046, 0.047}, {}};
  UnitFacts facts = three.facts();
  facts.hours.clear();
  const std::string told = joined(history_of(three.rows(), facts).sentences);
  CHECK_THAT(told, Catch::Contains("0 readings are too few") &&
                       Catch::Contains("3 readings of the current without known hours left out"));
}

TEST_CASE("unit history: currents at another level are left out of life", "[report]") {
  const Visits visits{{0, 500, 1000, 1500, 2000}, {0.060, 0.046, 0.0471, 0.048, 0.0491}, {1.6, 1.2, 1.2, 1.2, 1.2}};
  const auto history = history_of(visits.rows(), visits.facts());
  REQUIRE(history.life);
  REQUIRE(history.life->line);
  CHECK(history.life->line->count == 4);
  CHECK_THAT(joined(history.sentences),
             Catch::Contains("1 reading of the current at a level more than 10 % from today's"));
}

TEST_CASE("unit history: a laser past its limit is said to be there", "[report]") {
  const Visits visits{{0, 500, 1000, 1500}, {0.048, 0.0511, 0.054, 0.0569}, {}};
  CHECK_THAT(joined(history_of(visits.rows(), visits.facts()).sentences),
             Catch::Contains("has come to its limit of 54 mA"));
}

// Common practice: a pickup two years old with about three hours of use read too high.
TEST_CASE("unit history: too high after few hours is a setting, not wear", "[report]") {
  const Visits visits{{3}, {0.045}, {1.45}};
  CHECK_THAT(
      joined(history_of(visits.rows(), visits.facts()).sentences),
      Catch::Contains("level_pressed is too high (1.450 V ± 0.020 V) after only 3 h: that is a setting, not wear."));
  const Visits old{{3000}, {0.045}, {1.45}};
  CHECK_THAT(joined(history_of(old.rows(), old.facts()).sentences), !Catch::Contains("a setting"));
}

TEST_CASE("unit history: what was read before the pickup was changed is of another one", "[report]") {
  const Visits visits{{0, 500, 1000}, {0.060, 0.045, 0.046}, {}};
  UnitFacts facts = visits.facts();
  facts.pickup_since = test::played_hour(168);
  const auto history = history_of(visits.rows(), facts);
  REQUIRE(history.tracks.size() == 2);
  CHECK(history.tracks[0].past.size() == 2);
}

TEST_CASE("unit history: readings stand with hours and trend, over years where hours are not known", "[report]") {
  const Visits visits{{0, 500, 1000, 1500}, {0.045, 0.0461, 0.047, 0.0481}, {}};
  CHECK_THAT(
      joined(history_table(history_of(visits.rows(), visits.facts()))),
      Catch::Contains("laser_current (+0.00204 A in 1000 h)") && Catch::Contains("1500 h") && Catch::Contains("pass"));
  UnitFacts facts = visits.facts();
  facts.hours.clear();
  CHECK_THAT(joined(history_table(history_of(visits.rows(), facts))), Catch::Contains("A a year)"));
}

TEST_CASE("unit history: the hours of a pickup are counted from when it was fitted", "[report]") {
  record::UnitBook unit;
  unit.visits.push_back({test::played_hour(0), "anna", "skips", 1000, {}, {}});
  unit.visits.push_back({test::played_hour(500), "anna", "skips", 1400, {}, {}});
  unit.visits.push_back({test::played_hour(900), "anna", "skips", 1300, {}, {}});  // the counter went back
  auto told = hours_of(unit);
  REQUIRE(told.size() == 2);
  CHECK(told[1].hours == 1400);
  unit.pickup = record::PickupInside{"PU-31", test::played_hour(10), 1000.0, 20.0};
  told = hours_of(unit);
  REQUIRE(told.size() == 2);
  CHECK(told[0].hours == 20);
  CHECK(told[1].hours == 420);
  unit.pickup->pickup_h.reset();
  CHECK(hours_of(unit).empty());
}
