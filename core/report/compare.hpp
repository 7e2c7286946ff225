// SPDX-License-Identifier: Apache-2.0
// Two runs side by side: their readings as they stand now, the difference of each with its uncertainty, and what the
// two had not in common. An error that both share cancels in a difference, but only where it is the same one: the gain
// of one instrument that was not calibrated in between, the divider of a probe on the same bench. Everything else
// (noise, offset, compensation, the pad) is another draw in each run, whatever its line in the budget is called.
#pragma once

#include <boost/json/object.hpp>

#include <optional>
#include <string>
#include <vector>

#include "core/metrology/reading.hpp"
#include "core/record/run_record.hpp"

namespace eyelevel::report {

struct Unlike {
  std::string what;  // "model", "probe of rf", "instrument scope"
  std::string a;     // empty: it is not there
  std::string b;
  bool forbids = false;  // the readings do not mean the same
};

struct ReadingPair {
  std::string name;
  std::optional<metrology::Reading> a, b;
  std::optional<metrology::Reading> difference;  // b - a; none where one lacks or their units differ
  bool is_beyond() const;                        // farther from 0 than its expanded uncertainty
};

struct Comparison {
  record::RunSummary a, b;
  std::vector<Unlike> unlike;  // what forbids first
  std::vector<ReadingPair> pairs;

  bool is_forbidden() const;
};

// Of readings of one name in a run, the newest. Which disc was in is what was given or answered under the name `disc`.
Comparison compare(const record::RunRecord& a, const record::RunRecord& b);

// "model: LF-2, LF-5"
std::string unlike_text(const Unlike& unlike);

// { a, b, unlike: [{ what, a, b, forbids }], readings: [{ name, unit, a, b, difference, beyond_uncertainty }] }
boost::json::object comparison_json(const Comparison& comparison);

}  // namespace eyelevel::report
