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
                {Demand::Ending::not_pass, {}}});
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
