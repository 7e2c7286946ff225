// SPDX-License-Identifier: Apache-2.0
// Readings of the invented Lanternfield workshop as rows of a store: what the benches, units and people do is said by
// the test, so that it is known what must be found. Seeded.
#pragma once

#include <algorithm>
#include <chrono>
#include <string>
#include <vector>

#include "core/base/random.hpp"
#include "core/record/store/run_names.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::test {

struct Play {
  std::size_t readings = 120;  // an hour apart, benches in turn
  std::vector<std::string> benches{"bench 1", "bench 2", "bench 3"};
  std::vector<std::string> people{"anna", "ben", "cem"};
  std::string model = "LF-2";
  double level_v = 1.2;
  double unit_sd = 0.02;        // from unit to unit, in volts
  double reading_sd = 0.01;     // from reading to reading
  std::string check_unit = {};  // every fourth reading of a bench is of it
  std::string drifting = {};    // this bench reads `drift` times as much from `drift_from` on
  double drift = 1;
  std::size_t drift_from = 0;
  bool is_gradual = false;  // from the first reading on, to that at the last
  std::string hasty = {};   // this person's readings lie off by so many volts
  double hasty_v = 0;
  double hasty_more_sd = 0;
  std::uint64_t seed = 7;
};

inline base::UtcTime played_hour(std::size_t hour) {
  return base::UtcTime(std::chrono::sys_days(std::chrono::year(2030) / std::chrono::January / 7)) +
         std::chrono::hours(hour);
}

// Newest first, as a store gives them.
inline std::vector<record::ReadingRow> played(const Play& play) {
  base::Random random(play.seed, "played workshop");
  std::vector<record::ReadingRow> rows;
  for (std::size_t i = 0; i < play.readings; ++i) {
    record::ReadingRow row;
    row.begun = played_hour(i);
    row.run = record::run_name(record::day_of(row.begun), static_cast<std::int64_t>(i % 24) + 1);
    row.number = 9;
    row.name = "level_pressed";
    row.unit = "V";
    row.standard_uncertainty = 0.01;
    row.expanded_uncertainty = 0.02;
    row.limit = metrology::Limit{1.08, 1.32};
    row.judgement = metrology::Judgement::pass;
    row.sequence = "pickup-level";
    row.model = play.model;
    row.bench = play.benches[i % play.benches.size()];
    // Whom chance sends there: nobody belongs to a bench.
    row.operator_name = play.people[random.below(play.people.size())];
    const bool is_check = !play.check_unit.empty() && (i / play.benches.size()) % 4 == 0;
    row.serial = is_check ? play.check_unit : "LF2-" + std::to_string(i);
    row.value = play.level_v + (is_check ? 0 : random.normal(0, play.unit_sd)) + random.normal(0, play.reading_sd);
    if (row.operator_name == play.hasty) row.value += play.hasty_v + random.normal(0, play.hasty_more_sd);
    if (row.bench == play.drifting) {
      const double share = play.is_gradual ? static_cast<double>(i) / static_cast<double>(play.readings)
                                           : static_cast<double>(i >= play.drift_from);
      row.value *= 1 + (play.drift - 1) * share;
    }
    rows.push_back(row);
  }
  std::reverse(rows.begin(), rows.end());
  return rows;
}

inline record::Tally played_tally(const std::string& day, const std::string& bench,
                                  std::optional<metrology::Judgement> judgement, std::int64_t runs,
                                  const std::string& who = "anna") {
  return {day, "LF-2", bench, who, "pickup-level", judgement, runs};
}

}  // namespace eyelevel::test
