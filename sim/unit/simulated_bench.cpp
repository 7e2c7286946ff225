// SPDX-License-Identifier: Apache-2.0
#include "sim/unit/simulated_bench.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/base/error.hpp"
#include "sim/instrument/generated_signal.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "sim/instrument/power_supply.hpp"
#include "sim/instrument/relay_box.hpp"

namespace eyelevel::sim {
namespace {

using Leads = std::map<std::string, std::shared_ptr<MovedLead>>;

// The square wave of the first oscilloscope, from the beginning on; empty without one.
std::shared_ptr<SignalSource> square_wave(const UnitMake& make) {
  for (const auto& one : make.instruments) {
    if (one.kind != "oscilloscope" || one.absent) continue;
    auto wave = std::make_shared<GeneratedSignal>(1, 1);
    const double height_v = one.calibrator.height_v;
    wave->set({GeneratorSetting::Shape::square, one.calibrator.frequency_hz, height_v, height_v / 2, true}, 0);
    return wave;
  }
  return nullptr;
}

Leads leads(const UnitMake& make, const std::shared_ptr<PadSignal>& pad) {
  MovedLead::Places places{{"pad", pad}, {"ground", nullptr}};
  if (auto wave = square_wave(make)) places["calibrator"] = std::move(wave);
  Leads all;
  for (const char* name : {"probe", "counter"}) all[name] = std::make_shared<MovedLead>(places, "pad");
  return all;
}

std::shared_ptr<ScpiInstrument> instrument(base::Timeline& timeline, const InstrumentMake& make,
                                           const std::string& serial, const std::shared_ptr<PadSignal>& pad,
                                           const Leads& leads, const base::Random& random) {
  const std::string identity = fmt::format("Eyelevel,Simulated {},{},1.0", make.kind, serial);
  if (make.kind == "oscilloscope") {
    auto scope = std::make_shared<SimulatedOscilloscope>(timeline, make.scope, random, identity, make.tongue);
    for (const auto& [channel, probe] : make.probes) {
      const bool may_be_moved = channel == make.probes.begin()->first;
      scope->connect(channel, may_be_moved ? std::shared_ptr<SignalSource>(leads.at("probe")) : pad, probe);
    }
    return scope;
  }
  if (make.kind == "multimeter") {
    auto meter = std::make_shared<SimulatedMultimeter>(timeline, make.meter, random, identity);
    meter->connect(pad, make.meter_load);
    return meter;
  }
  if (make.kind == "power supply")
    return std::make_shared<SimulatedPowerSupply>(timeline, make.supply, random, identity);
  if (make.kind == "function generator") {
    auto generator = std::make_shared<SimulatedFunctionGenerator>(timeline, make.generator, random, identity);
    for (const auto& [name, lead] : leads) lead->add("generator", generator->place(1));
    return generator;
  }
  if (make.kind == "counter") {
    auto counter = std::make_shared<SimulatedCounter>(timeline, make.counter, random, identity);
    counter->connect(1, leads.at("counter"), make.counter_load);
    return counter;
  }
  if (make.kind == "relay box") return std::make_shared<SimulatedRelayBox>(timeline, make.relays, identity);
  throw base::Error(base::ErrorCode::bad_input, "the simulator has no instrument of kind \"" + make.kind + "\"",
                    "write one of the kinds of a bench file");
}

}  // namespace

SimulatedBench::SimulatedBench(base::Timeline& timeline, const UnitMake& make)
    : box_(make.box),
      player_(make.player),
      pad_(std::make_shared<PadSignal>(player_)),
      leads_(leads(make, pad_)),
      person_(player_, timeline, make.box, make.person_seed, make.person) {
  player_.switch_on(base::to_seconds(timeline.now()));
  const base::Random random(make.bench_seed, "instruments");
  for (const auto& one : make.instruments) {
    if (one.absent) continue;
    auto behaving = instrument(timeline, one, make.bench_serial, pad_, leads_, random.stream(one.role));
    behaving->answer_self_test(one.self_test);
    if (one.kind == "oscilloscope" && !one.probes.empty()) person_.may_move("probe", *leads_.at("probe"));
    if (one.kind == "counter") person_.may_move("counter", *leads_.at("counter"));
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
