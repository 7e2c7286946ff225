// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/week.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <chrono>
#include <map>
#include <set>

#include "core/yaml/load.hpp"

using namespace eyelevel;

namespace {

const std::string head =
    "week: days\nseed: 5\nsequence: a.yaml\nfirst day: 2030-05-13\ndays: 2\n"
    "benches: [ { name: one }, { name: two, reads more each day: -1 %, from day: 2 } ]\n";
const std::string people = "people: [ { name: anna }, { name: ben, habits: [ wrong disc ], how often: 100 % } ]\n";
const std::string units = "units: [ { count: 7 }, { count: 3, lot: 29-38, troubles: [ laser worn out ] } ]\n";

sim::WeekRead read(const std::string& text) {
  return sim::read_week(yaml::load_text("weeks/w.yaml", text), sim::ready_troubles());
}

std::string mistakes_of(const std::string& text) {
  std::string all;
  const auto week = read(text);
  for (const auto& mistake : week.mistakes.list()) all += yaml::print(mistake) + "\n";
  return all;
}

}  // namespace

TEST_CASE("week: is read with its benches, people and units", "[sim]") {
  const auto [week, mistakes] = read(head + people + units + "check unit: C\nchecks a day: 3\n");
  REQUIRE(mistakes.fine());
  CHECK(week.path_of(week.sequence) == "weeks/a.yaml");
  CHECK(week.path_of(week.model).empty());
  CHECK(week.benches.at(1).drift_a_day == -0.01);
  CHECK(week.benches.at(1).drifts_from_day == 2);
  CHECK(week.people.at(1).habit_rate == 1);
  CHECK(week.units.at(1).lot == "29-38");
  CHECK(week.checks_a_day == 3);
}

TEST_CASE("week: each mistake is told with its place and what would be right", "[sim]") {
  CHECK(mistakes_of(head + people + "units: [ { count: 1, troubles: [ laser deed ] } ]\n")
            .starts_with("weeks/w.yaml:8:34: unknown trouble 'laser deed'; did you mean 'laser dead'?"));
  CHECK(mistakes_of(head + people + "units: []\n").starts_with("weeks/w.yaml:8:8: 'units' is empty"));
  CHECK(mistakes_of(head + people + "units: [ { count: 0 } ]\n").find("'count' may be 1 to 2000") != std::string::npos);
  CHECK(mistakes_of(head + units + "people: [ { name: a }, { name: a } ]\n").find("a second time") !=
        std::string::npos);
  CHECK(mistakes_of(head + units + "people: [ { name: a, habits: [ wrong disc ] } ]\n").find("without `how often`") !=
        std::string::npos);
  CHECK(mistakes_of(head + people + units + "checks a day: 2\n").find("name it with `check unit`") !=
        std::string::npos);
  CHECK(mistakes_of("week: days\n").find("missing") != std::string::npos);
}

TEST_CASE("week: every unit is measured once, everybody sits at every bench, the checks come besides", "[sim]") {
  const auto week = read(head + people + units + "check unit: C\n").week;
  const auto visits = sim::visits_of(week);
  std::map<int, int> times;
  std::set<std::pair<std::size_t, std::string>> sat;
  for (const auto& visit : visits) {
    ++times[visit.unit];
    sat.insert({visit.bench, visit.by});
  }
  CHECK(times.extract(0).mapped() == 2 * 2 * 2);  // benches, days, checks a day
  CHECK(times.size() == 10);
  for (const auto& [unit, count] : times) CHECK(count == 1);
  CHECK(sat.size() == 4);
  CHECK(std::is_sorted(visits.begin(), visits.end(), [](const auto& a, const auto& b) { return a.begun < b.begun; }));
}

TEST_CASE("week: a bench drifts from its day on, a habit goes with its person, a trouble with its units", "[sim]") {
  const auto week = read(head + people + units).week;
  for (const auto& visit : sim::visits_of(week)) {
    INFO("unit " << visit.unit);
    const bool is_second_day = visit.begun >= week.first_day + std::chrono::days(1);
    CHECK(visit.probe_drift == (visit.bench == 1 && is_second_day ? -0.01 : 0));
    const std::set<std::string> troubles(visit.troubles.begin(), visit.troubles.end());
    CHECK(troubles.contains("wrong disc") == (visit.by == "ben"));
    CHECK(troubles.contains("laser worn out") == (visit.unit > 7));
    CHECK(visit.lot == (visit.unit > 7 ? "29-38" : ""));
  }
}

TEST_CASE("week: the same file plays the same", "[sim]") {
  const auto week = read(head + people + units).week;
  const auto a = sim::visits_of(week), b = sim::visits_of(week);
  REQUIRE(a.size() == b.size());
  for (std::size_t i = 0; i < a.size(); ++i) {
    CHECK(a[i].unit == b[i].unit);
    CHECK(a[i].hours == b[i].hours);
  }
}
