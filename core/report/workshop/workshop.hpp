// SPDX-License-Identifier: Apache-2.0
// What the workshop's runs say together: how many pass, whether a bench reads otherwise than it did, whether an
// operator reads otherwise than the others, whether the readings lie well within their limits. Pure over rows of the
// store, which the caller has taken through the corrections; sentences first, for a technician, then figures.
#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/metrology/population/capability.hpp"
#include "core/metrology/study/one_way.hpp"
#include "core/record/books/pickup_book.hpp"
#include "core/record/store/store.hpp"
#include "core/report/workshop/charts.hpp"
#include "core/report/workshop/drift.hpp"
#include "core/report/workshop/series.hpp"
#include "core/report/workshop/yield.hpp"

namespace eyelevel::report::workshop {

struct Asked {
  std::string reading;                       // the name whose readings are charted; empty: none
  std::string check_unit;                    // serial of the unit, or transfer disc's unit, that judges the benches
  std::map<std::string, double> references;  // by model
};

struct Charted {
  Series series;
  std::optional<Charts> charts;
  std::optional<Change> change;
};

struct Capable {
  std::string model;
  metrology::Limit limit;  // the newest readings' own
  std::size_t count = 0;   // readings under that limit
  double mean = 0, sd = 0;
  metrology::population::Capability figures;
  bool is_stable = false;  // its charts are in control and did not change
};

// Readings of different people, or of units whose pickups are of different lots, each as its distance from the level of
// its model and bench.
struct Compared {
  metrology::study::OneWay result;
  // Who differs, the farthest first, each against those who are left: who reads low must not make all others read high.
  // Of two it cannot be said which one.
  std::vector<metrology::study::GroupAgainstOthers> off;
  double centre = 0;  // mean of the models' centres, for a share
};

struct Workshop {
  std::string reading;
  std::string unit;
  Yields yields;
  std::size_t readings = 0;
  std::vector<Charted> benches;  // all units but the check unit, by model and bench
  std::vector<Charted> checks;   // the check unit, by bench
  std::string check_unit;
  std::vector<Capable> capable;
  std::optional<Compared> operators;
  std::optional<Compared> lots;
  std::vector<std::string> notes;  // what could not be told, and why
};

// `rows`: of the reading that is asked for, newest first. `pickups`: what the books know of them.
Workshop workshop_of(std::span<const record::Tally> tallies, std::span<const record::ReadingRow> rows,
                     const Asked& asked, std::span<const record::PickupBook> pickups = {});

// For amount_text().
Scale scale_of(const Charted& charted, const std::string& unit);

}  // namespace eyelevel::report::workshop
