// SPDX-License-Identifier: Apache-2.0
// Budgets: merging equal sources, combined uncertainty, effective degrees of freedom, covariance of two budgets.
// combine() itself is declared in reading.hpp. Clauses: JCGM 100:2008 (GUM) 5.1, 5.2, G.4; JCGM 101:2008.
#pragma once

#include <vector>

#include "core/metrology/reading.hpp"

namespace eyelevel::metrology {

// One line per source: effects of equal (not empty) sources are added with their signs, the smaller degrees of freedom
// kept; lines without a source stay apart. Error(bad_input) on an effect that is not finite, degrees of freedom below 1
// or NaN, or one source with two shapes.
std::vector<Contribution> merged(const std::vector<Contribution>& contributions);

// Welch-Satterthwaite (GUM G.4.1), not truncated; infinite where nothing limits it.
double effective_degrees_of_freedom(const std::vector<Contribution>& contributions);

// The first-order way of the GUM (clause 6, annex G): U = t_p(truncated effective degrees of freedom) u. For comparison
// with published examples; combine() is what readings state.
Interval combine_by_gum(const std::vector<Contribution>& contributions, double coverage_probability = 0.95);

// Sum over shared sources of the products of their effects (GUM 5.2.2, F.1.2.3); lines without a source share nothing.
double covariance(const std::vector<Contribution>& a, const std::vector<Contribution>& b);

}  // namespace eyelevel::metrology
