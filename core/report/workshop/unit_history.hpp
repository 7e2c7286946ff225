// SPDX-License-Identifier: Apache-2.0
// A unit over the years: what each reading was at each visit, with the hours that its pickup had then, and what may be
// said of its life. With a power loop the level stays while the laser's current rises, so that life is read from the
// current at constant level; without one, or where nobody told, it is not known. Pure; hours in h, current in A.
#pragma once

#include <boost/json/object.hpp>

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/metrology/trend/life.hpp"
#include "core/record/books/unit_book.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::report::workshop {

struct HoursTold {
  base::UtcTime utc{};
  double hours = 0;  // of the pickup
};

// Of the pickup that is inside now; of the unit where no pickup was ever noted, which then is taken for its first.
std::vector<HoursTold> hours_of(const record::UnitBook& unit);

struct UnitFacts {
  std::string serial;
  std::string model;
  std::vector<HoursTold> hours;               // oldest first
  std::optional<base::UtcTime> pickup_since;  // what was read before is of another one
  std::optional<bool> has_power_loop;         // nobody told: nothing
  std::optional<double> current_limit_a;
  std::string limit_from;    // where it comes from: "the label's 45 mA and 20 % (common practice)"
  std::string level_name;    // reading that is to be constant; empty: the only one in volts with "level" in its name
  std::string current_name;  // empty: the only one in amperes
};

struct Past {
  base::UtcTime at{};
  std::string run;
  std::optional<double> hours;
  double value = 0;
  double expanded_uncertainty = 0;
  std::optional<metrology::Limit> limit;
  std::optional<metrology::Judgement> judgement;
};

struct Track {
  std::string name;
  std::string unit;
  std::vector<Past> past;  // oldest first, of the pickup inside
  // Line over the hours where they are known for three readings or more at two times or more, else over years.
  std::optional<metrology::trend::Line> trend;
  bool is_over_hours = false;
};

struct UnitHistory {
  UnitFacts facts;
  std::vector<Track> tracks;  // by name
  std::optional<metrology::trend::Life> life;
  std::vector<std::string> sentences;  // what may be said of life and setting, the gravest first
};

// `rows`: readings of this unit, newest first.
UnitHistory history_of(std::span<const record::ReadingRow> rows, const UnitFacts& facts);

std::vector<std::string> history_table(const UnitHistory& history);
boost::json::object to_json(const UnitHistory& history);

}  // namespace eyelevel::report::workshop
