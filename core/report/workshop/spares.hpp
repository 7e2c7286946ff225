// SPDX-License-Identifier: Apache-2.0
// What to buy spares for: how many new pickups of each part were fitted so far, and how many the next year may want.
// The rate is taken as constant; the prediction is that of a count after a count (Poisson with Jeffreys' prior, so
// negative binomial), which is wide where little was seen.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/record/books/pickup_book.hpp"

namespace eyelevel::report::workshop {

struct SpareNeed {
  std::string part;                     // "" where it was never said
  std::size_t pickups = 0;              // of that part in the books
  std::size_t inside = 0;               // now in a unit
  std::int64_t fitted_new = 0;          // of them, fitted with 0 hours
  double years = 0;                     // over which that was seen
  std::optional<double> a_year;         // expected in the next
  std::optional<std::int64_t> at_most;  // needed in the next year in 95 of 100 cases
};

inline constexpr double least_years = 0.25;  // of books that predict a year

// By part, the largest need first. Years count from the first pickup that the books know; before least_years of them
// nothing is predicted.
std::vector<SpareNeed> spares_of(std::span<const record::PickupBook> pickups, base::UtcTime now);

// A count in the time `ahead` that is not exceeded with `probability`, after `seen` in the time `over`.
std::int64_t count_ahead(std::int64_t seen, double over, double ahead, double probability = 0.95);

std::vector<std::string> spares_table(std::span<const SpareNeed> needs);

}  // namespace eyelevel::report::workshop
