// SPDX-License-Identifier: Apache-2.0
#include "sim/unit/simulated_bench.hpp"

#include <algorithm>
#include <utility>

#include "core/base/error.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "sim/instrument/power_supply.hpp"
#include "sim/instrument/relay_box.hpp"

namespace eyelevel::sim {
namespace {

std::shared_ptr<ScpiInstrument> instrument(base::Timeline& timeline, const InstrumentMake& make,
                                           const std::shared_ptr<PadSignal>& pad, const base::Random& random) {
  if (make.kind == "oscilloscope") {
    auto scope = std::make_shared<SimulatedOscilloscope>(timeline, make.scope, random,
                                                         "Eyelevel,Simulated oscilloscope,0,1.0", make.tongue);
    for (const auto& [channel, probe] : make.probes) scope->connect(channel, pad, probe);
    return scope;
  }
  if (make.kind == "multimeter") {
    auto meter = std::make_shared<SimulatedMultimeter>(timeline, make.meter, random);
    meter->connect(pad, make.meter_load);
    return meter;
  }
  if (make.kind == "power supply") return std::make_shared<SimulatedPowerSupply>(timeline, make.supply, random);
  if (make.kind == "function generator")
    return std::make_shared<SimulatedFunctionGenerator>(timeline, make.generator, random);
  if (make.kind == "counter") {
    auto counter = std::make_shared<SimulatedCounter>(timeline, make.counter, random);
    counter->connect(1, pad, make.counter_load);
    return counter;
  }
  if (make.kind == "relay box") return std::make_shared<SimulatedRelayBox>(timeline, make.relays);
  throw base::Error(base::ErrorCode::bad_input, "the simulator has no instrument of kind \"" + make.kind + "\"",
                    "write one of the kinds of a bench file");
}

}  // namespace

SimulatedBench::SimulatedBench(base::Timeline& timeline, const UnitMake& make)
    : box_(make.box),
      player_(make.player),
      pad_(std::make_shared<PadSignal>(player_)),
      person_(player_, timeline, make.box, make.seed, make.person) {
  player_.switch_on(base::to_seconds(timeline.now()));
  const base::Random random(make.seed, "instruments");
  for (const auto& one : make.instruments) {
    if (one.absent) continue;
    auto behaving = instrument(timeline, one, pad_, random.stream(one.role));
    identities_[one.role] = behaving->identity();
    auto device = std::make_shared<MisbehavingDevice>(timeline, std::move(behaving));
    try {
      for (const auto& fault : one.faults) device->add(fault);
    } catch (base::Error& error) {
      error.within(one.role);
      throw;
    }
    devices_[one.role] = std::move(device);
  }
}

std::shared_ptr<const Disc> SimulatedBench::disc(DiscKind kind) const {
  const auto it = std::find_if(box_.begin(), box_.end(), [&](const auto& d) { return d->kind == kind; });
  return it == box_.end() ? nullptr : *it;
}

}  // namespace eyelevel::sim
