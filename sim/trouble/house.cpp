// SPDX-License-Identifier: Apache-2.0
// Troubles of the record and of the computer that runs the sequence.
#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {
namespace {

using base::ErrorCode;
using enum Demand::Ending;

void store_full(UnitMake& make, base::Random& random) {
  // A run whose beginning cannot be kept does not begin at all.
  make.surroundings.store_full_from = 2 + static_cast<int>(random.below(7));
}

void clock_jump(UnitMake& make, base::Random& random) {
  make.surroundings.clock_jumps_at_s = random.uniform(1, 60);
  make.surroundings.clock_jumps_by_s = random.uniform(600, 86400) * (random.chance(0.5) ? 1 : -1);
}

}  // namespace

void register_house_troubles(Troubles& troubles) {
  add(troubles, {{"store full",
                  "the disk that the record lies on is full",
                  "that the record could not be kept",
                  {"disk", "full"},
                  {stopped, {ErrorCode::not_recording}},
                  store_full},
                 {"clock jump",
                  "somebody sets the computer's clock by minutes or hours, either way",
                  "nothing: no wait and no reading hangs on the calendar",
                  {},
                  {by_truth, {}},
                  clock_jump}});
}

}  // namespace eyelevel::sim
