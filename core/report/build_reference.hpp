// SPDX-License-Identifier: Apache-2.0
// A reference out of recorded runs of known good units: one value for each unit, the mean of its readings as they stand
// now; the limits are metrology's (population/good_units).
#pragma once

#include <set>
#include <span>
#include <string>
#include <vector>

#include "core/metrology/population/good_units.hpp"
#include "core/record/books/reference_book.hpp"
#include "core/record/run_record.hpp"

namespace eyelevel::report {

struct ReferenceWish {
  std::string model;
  std::string reading;
  std::string disc;
  std::set<std::string> without;  // serials that are left out
  metrology::population::ReferenceOptions options;
};

struct BuiltReference {
  record::ReferenceSet set;
  std::vector<std::string> warnings;  // each a sentence
};

// Throws Error(bad_input): no run, a run of another model or sequence, without a serial, without that reading, or with
// it in another unit of measure; nothing is left out silently. One unit gives no limit: Error(bad_input).
BuiltReference build_reference(std::span<const record::RunRecord> runs, const ReferenceWish& wish);

}  // namespace eyelevel::report
