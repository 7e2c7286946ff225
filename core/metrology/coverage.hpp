// SPDX-License-Identifier: Apache-2.0
// The half-width of the symmetric interval that holds a stated probability of a sum of independent errors, each with
// its own shape (JCGM 101:2008 6.4): rectangular, triangular and arcsine as they are, normal ones together, and normal
// ones with finite degrees of freedom as scaled Student t (6.4.9: scale = effect). One contribution is exact; sums come
// from their characteristic functions, which are real because all shapes are even, to better than 0.1 % of the
// half-width. Cost: 1 us for one shape, some 10 to 300 us for a budget.
#pragma once

#include <vector>

#include "core/metrology/reading.hpp"

namespace eyelevel::metrology {

// Contributions must be merged() and finite; 0 < probability < 1. 0 when all effects are 0.
double coverage_half_width(const std::vector<Contribution>& independent, double probability);

// t such that Student's distribution holds `probability` within +-t; infinite degrees of freedom: the normal one.
double student_two_sided(double degrees_of_freedom, double probability);

}  // namespace eyelevel::metrology
