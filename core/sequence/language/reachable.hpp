// SPDX-License-Identifier: Apache-2.0
// Limits that are narrower than what the instruments of a bench alone leave uncertain: no reading could ever be shown
// to meet them (JCGM 106 8.3.3), so that the bench is refused before anything is touched.
#pragma once

#include "core/sequence/runner/action.hpp"

namespace eyelevel::sequence {

// `measured`: what gives the reading that `step` holds against the limit. The mistake stands at the step.
void require_reachable(const Action& measured, const NamedLimit& limit, const Step& step, const bench::BenchFile& bench,
                       yaml::Mistakes& mistakes);

}  // namespace eyelevel::sequence
