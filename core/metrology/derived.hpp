// SPDX-License-Identifier: Apache-2.0
// Readings made of readings: mean, sum, difference, product, ratio, largest, smallest. Budgets are combined source by
// source, so that what two readings share (the gain of one instrument) cancels or adds as it really does (GUM 5.2). The
// result's name, of, limit and judgement are left to the caller; unit, count, inputs and time span are filled. Sources
// that are equal by chance would be taken for one error: name captures by their own name.
#pragma once

#include <span>

#include "core/metrology/reading.hpp"

namespace eyelevel::metrology {

// All take the coverage probability of their first reading. Error(bad_input): no readings, units that differ, a value
// that is not finite, a ratio to 0.
Reading mean_of(std::span<const Reading> readings);
Reading sum_of(const Reading& a, const Reading& b);
Reading difference_of(const Reading& a, const Reading& b);  // a - b
// First order (GUM 5.1.2): relative uncertainties well below 1. Unit "UNIT UNIT", without the one that is "1".
Reading product_of(const Reading& a, const Reading& b);
// a / b; unit "1" where both have one unit, else "UNIT/UNIT". First order (GUM 5.1.2): u(b) well below b.
Reading ratio_of(const Reading& a, const Reading& b);
// The reading with the largest (smallest) value, with its own uncertainty, as a reading of its own.
Reading largest_of(std::span<const Reading> readings);
Reading smallest_of(std::span<const Reading> readings);

// Correlation of two readings that comes from shared sources, -1..1; 0 where either is without uncertainty.
double correlation_of(const Reading& a, const Reading& b);

}  // namespace eyelevel::metrology
