// SPDX-License-Identifier: Apache-2.0
// What no measurement of a unit would show, and a proof of the bench must.
#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {
namespace {

using enum Demand::Ending;

void test_fails(UnitMake& make, base::Random& random) {
  if (auto* scope = make.instrument_of_kind("oscilloscope")) scope->self_test = 1 + static_cast<int>(random.below(20));
}

// Simulated time begins on 2030-01-07.
void overdue(UnitMake& make, base::Random&) {
  if (auto* scope = make.instrument_of_kind("oscilloscope")) scope->calibration_due = "2029-12-07";
}

void clock_off(UnitMake& make, base::Random& random) {
  if (auto* scope = make.instrument_of_kind("oscilloscope"))
    scope->scope.clock_off = random.uniform(3e-4, 9e-4) * (random.chance(0.5) ? 1 : -1);
}

}  // namespace

void register_bench_troubles(Troubles& troubles) {
  add(troubles, {{"self-test fails",
                  "the oscilloscope tests itself and finds a fault",
                  "that its self-test failed",
                  {"self-test"},
                  {by_truth, {}, {"self-test"}},
                  test_fails},
                 {"calibration overdue",
                  "by the bench file the oscilloscope should have been calibrated a month ago",
                  "that its calibration is overdue",
                  {"calibration"},
                  {by_truth, {}, {"calibration"}},
                  overdue},
                 {"clock off",
                  "the sample clock of the oscilloscope is 300 to 900 ppm off",
                  "that its clock is off",
                  {"clock"},
                  {by_truth, {}, {"clock_ratio", "generator_clock_ratio"}},
                  clock_off}});
}

}  // namespace eyelevel::sim
