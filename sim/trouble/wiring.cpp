// SPDX-License-Identifier: Apache-2.0
// Troubles between the pad and the instrument: the instrument believes one wiring, the bench has another.
#include <utility>

#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {
namespace {

using base::ErrorCode;
using enum Demand::Ending;

void each_probe(UnitMake& make, const std::function<void(ProbeWiring&)>& change) {
  if (auto* scope = make.instrument_of_kind("oscilloscope"))
    for (auto& [channel, probe] : scope->probes) change(probe);
}

void at_x1(UnitMake& make, base::Random&) {
  each_probe(make, [](ProbeWiring& probe) {
    probe.factor = 1;
    probe.resistance_ohm = 1e6;
    probe.capacitance_f = 110e-12;
  });
}

void miscompensated(UnitMake& make, base::Random& random) {
  const double off = random.uniform(0.10, 0.20) * (random.chance(0.5) ? 1 : -1);
  each_probe(make, [off](ProbeWiring& probe) { probe.compensation = 1 + off; });
}

void slipped_off(UnitMake& make, base::Random&) {
  if (auto* scope = make.instrument_of_kind("oscilloscope")) scope->probes.clear();
}

void into_the_next_input(UnitMake& make, base::Random&) {
  auto* scope = make.instrument_of_kind("oscilloscope");
  if (scope == nullptr) return;
  std::map<int, ProbeWiring> moved;
  for (auto& [channel, probe] : scope->probes) moved[channel + 1] = probe;
  scope->probes = std::move(moved);
  scope->scope.channels += 1;
}

// A metre or two of screened cable.
void loaded_pad(UnitMake& make, base::Random& random) {
  const double more_f = random.uniform(100e-12, 200e-12);
  each_probe(make, [more_f](ProbeWiring& probe) { probe.capacitance_f += more_f; });
}

// The way back goes through mains earth and all that hangs on it.
void clip_off(UnitMake& make, base::Random& random) {
  const double hum_v = random.uniform(4, 20);
  each_probe(make, [hum_v](ProbeWiring& probe) { probe.hum_v = hum_v; });
}

void hum(UnitMake& make, base::Random& random) {
  const double hum_v = random.uniform(0.02, 0.08);
  each_probe(make, [hum_v](ProbeWiring& probe) { probe.hum_v = hum_v; });
}

// The reference is pulled to ground: the pad stands at 0 V, the servo sees no light and gives up.
void clip_on_reference(UnitMake& make, base::Random&) {
  make.player.reference_error = -1;
  make.player.laser.slope_25_mw_per_ma *= 1e-6;
}

}  // namespace

void register_wiring_troubles(Troubles& troubles) {
  const Demand nothing_seen{stopped, {ErrorCode::wait_ran_out, ErrorCode::wrong_wiring}, {}, "oscilloscope"};
  add(troubles, {{"probe switched to x1",
                  "the probe's own switch stands at x1 while the bench file and the instrument say x10",
                  "that the probe factor is wrong, or captures are clipped",
                  {"probe", "clipped", "factor", "no eye"},
                  {not_pass, {}, {"probe factor"}, "oscilloscope"},
                  at_x1},
                 // The levels of a unit cannot tell it from another laser: the proof of the bench can.
                 {"probe not compensated",
                  "the probe's trimmer is off: everything but d.c. is 10 to 20 % too high or too low",
                  "by the bench proof, that the tops of the square wave are not flat",
                  {"top flatness"},
                  {any, {}, {"top flatness"}},
                  miscompensated},
                 {"probe off",
                  "the probe has slipped off the pad: the input is open",
                  "that there is no eye",
                  {"no eye", "did not rise"},
                  nothing_seen,
                  slipped_off},
                 {"probe in the wrong input",
                  "the probe's plug sits in the next input",
                  "that there is no eye",
                  {"no eye", "did not rise"},
                  nothing_seen,
                  into_the_next_input},
                 {"pad loaded",
                  "a long screened lead hangs on the pad beside the probe: short runs lose height",
                  "nothing: the level of the longest runs holds",
                  {},
                  {by_truth, {}},
                  loaded_pad},
                 {"ground clip off",
                  "the probe's ground clip hangs in the air: the signal comes back through mains earth",
                  "that captures are clipped, or that there is no eye",
                  {"clipped", "no eye", "beyond the screen", "did not rise"},
                  {not_pass, {}, {}, "oscilloscope"},
                  clip_off},
                 {"ground clip on the reference",
                  "the ground clip sits on the pickup's reference and pulls it to ground",
                  "that there is no eye",
                  {"no eye"},
                  {no_eye, {ErrorCode::wait_ran_out, ErrorCode::no_answer}},
                  clip_on_reference},
                 {"hum",
                  "a second ground makes a loop: 20 to 80 mV of the mains stand on the signal",
                  "nothing: the level does not feel it",
                  {},
                  {by_truth, {}},
                  hum}});
}

}  // namespace eyelevel::sim
