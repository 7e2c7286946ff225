// SPDX-License-Identifier: Apache-2.0
// Troubles between the pad and the instrument: the instrument believes one probe, the bench has another.
#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {
namespace {

void each_probe(UnitMake& make, const std::function<void(ProbeWiring&)>& change) {
  if (auto* scope = make.instrument_of_kind("oscilloscope"))
    for (auto& [channel, probe] : scope->probes) change(probe);
}

}  // namespace

void register_wiring_troubles(Troubles& troubles) {
  troubles.add({.name = "probe switched to x1",
                .about = "the probe's own switch stands at x1 while the bench file and the instrument say x10",
                .parameters = {},
                .example = "eyelevel rehearse SEQUENCE --trouble 'probe switched to x1'"},
               {[](UnitMake& make, base::Random&) {
                  each_probe(make, [](ProbeWiring& probe) {
                    probe.factor = 1;
                    probe.resistance_ohm = 1e6;
                    probe.capacitance_f = 110e-12;
                  });
                },
                {Demand::Ending::not_pass, {}, "probe factor"}});
  troubles.add({.name = "probe not compensated",
                .about = "the probe's trimmer is off: everything but d.c. is 10 to 20 % too high or too low",
                .parameters = {},
                .example = "eyelevel rehearse sequences/ready/bench-proof.yaml --trouble 'probe not compensated'"},
               {[](UnitMake& make, base::Random& random) {
                  const double off = random.uniform(0.10, 0.20) * (random.chance(0.5) ? 1 : -1);
                  each_probe(make, [off](ProbeWiring& probe) { probe.compensation = 1 + off; });
                },
                // The levels of a unit cannot tell it from another laser: the proof of the bench can.
                {Demand::Ending::any, {}, "top flatness"}});
  troubles.add({.name = "probe off",
                .about = "the probe has slipped off the pad: the input is open",
                .parameters = {},
                .example = "eyelevel rehearse SEQUENCE --trouble 'probe off'"},
               {[](UnitMake& make, base::Random&) {
                  if (auto* scope = make.instrument_of_kind("oscilloscope")) scope->probes.clear();
                },
                {Demand::Ending::stopped, {base::ErrorCode::wait_ran_out, base::ErrorCode::wrong_wiring}}});
}

}  // namespace eyelevel::sim
