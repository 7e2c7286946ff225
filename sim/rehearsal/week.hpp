// SPDX-License-Identifier: Apache-2.0
// Days of a workshop that are played through as a rehearsal: which unit was measured where, when and by whom, on
// benches that stay the same from unit to unit, with what is wrong that week. Its record is made for demonstrations and
// for tests of what is told of many runs. A YAML file says what is played (week_table()); examples/week has one.
// Here: reading the file, and who does what when. Playing it: play.hpp.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/yaml/key_table.hpp"
#include "core/yaml/load.hpp"
#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {

struct WeekBench {
  std::string name;
  double drift_a_day = 0;  // relative change of its probe's factor
  int drifts_from_day = 1;
};

struct WeekPerson {
  std::string name;
  std::vector<std::string> habits;  // troubles, each whenever there is occasion for a habit
  double habit_rate = 0;            // 0..1 of the units
};

// Units that have something in common.
struct WeekUnits {
  int count = 0;
  std::string lot;  // of their pickups
  std::vector<std::string> troubles;
};

struct Week {
  std::string file;
  std::string about;
  std::uint64_t seed = 1;
  std::string sequence;  // path, from the folder of the file; so are model and bench, which may be empty
  std::string model;
  std::string bench;
  base::UtcTime first_day{};
  int days = 0;
  std::vector<WeekBench> benches;
  std::vector<WeekPerson> people;
  std::vector<WeekUnits> units;
  std::string check_unit;     // serial of the unit that every bench measures
  int checks_a_day = 0;       // by each bench
  std::string pickup_part{};  // of the units' pickups

  // As the program is to open it; empty stays empty.
  std::string path_of(const std::string& named) const;
};

struct WeekRead {
  Week week;  // complete only if `mistakes.fine()`
  yaml::Mistakes mistakes;
};

WeekRead read_week(yaml::Document document, const Troubles& troubles);
yaml::KeyTable week_table();
// Whether the document is meant as one: its first key is `week`.
bool is_week(const yaml::Node& root);

// One measurement of the week.
struct WeekVisit {
  base::UtcTime begun{};
  std::size_t bench = 0;   // in Week::benches
  double probe_drift = 0;  // relative, of the bench by then
  std::string by;
  int unit = 0;      // number of the unit, from 1; 0: the check unit
  std::string lot;   // of its pickup
  double hours = 0;  // of its use
  std::vector<std::string> troubles;
};

// In the order of time. Every bench measures one unit after another through the day; who sits there changes from day to
// day, so that person and bench can be told apart.
std::vector<WeekVisit> visits_of(const Week& week);

}  // namespace eyelevel::sim
