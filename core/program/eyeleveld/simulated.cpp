// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyeleveld/simulated.hpp"

#include "core/program/files.hpp"
#include "instruments/phrasebook/open.hpp"
#include "instruments/transport/memory/client.hpp"
#include "instruments/transport/transports.hpp"
#include "sim/rehearsal/rehearse.hpp"
#include "sim/unit/simulated_bench.hpp"

namespace eyelevel::program {

struct SimulatedBenches::One {
  One(base::Timeline& timeline, const sim::UnitMake& make) : bench(timeline, make) {
    for (const auto& [role, device] : bench.devices()) server->add(role, device);
    transport::add_memory(transports, server);
  }
  sim::SimulatedBench bench;
  std::shared_ptr<transport::memory::MemoryServer> server = std::make_shared<transport::memory::MemoryServer>();
  transport::Transports transports;
};

SimulatedBenches::SimulatedBenches(base::Timeline& timeline, const phrasebook::Phrasebooks& phrasebooks)
    : timeline_(timeline), phrasebooks_(phrasebooks) {}
SimulatedBenches::~SimulatedBenches() = default;

service::BenchSetting SimulatedBenches::add(const bench::BenchFile& bench) {
  const auto make = sim::draw_unit(all_.size() + 1, sim::traits_of(embedded_model()), bench);
  One& one = *all_.emplace_back(std::make_unique<One>(timeline_, make));
  return {.bench = sim::in_memory(bench),
          .open = phrasebook::opener(phrasebooks_, one.transports, timeline_),
          .hands = std::shared_ptr<bench::Operator>(std::shared_ptr<void>(), &one.bench.person())};
}

}  // namespace eyelevel::program
