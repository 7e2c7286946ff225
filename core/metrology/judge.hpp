// SPDX-License-Identifier: Apache-2.0
// How sure a judgement can be. judge() itself is declared in reading.hpp. JCGM 106:2012 clauses 7 and 8.
#pragma once

#include "core/metrology/reading.hpp"

namespace eyelevel::metrology {

// Error(bad_input) unless the limit has a side, its sides are finite numbers, and at_least is not above at_most.
void require_usable(const Limit& limit);

// Whether any value could pass: false when the limit is narrower than the whole interval (JCGM 106 8.3.3).
bool can_pass(double expanded_uncertainty, const Limit& limit);

// Probability that the quantity lies inside the limit, for a normal state of knowledge (JCGM 106 7.2). u above 0.
double probability_of_conformity(double value, double standard_uncertainty, const Limit& limit);

}  // namespace eyelevel::metrology
