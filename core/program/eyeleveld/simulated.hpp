// SPDX-License-Identifier: Apache-2.0
// A bench whose instruments, player and discs are simulated inside the daemon, on the wall clock: for learning, for the
// demonstration and for tests. What the person at the page says was done, the simulated hands do.
#pragma once

#include <memory>

#include "core/base/timeline.hpp"
#include "core/bench/bench_file.hpp"
#include "core/service/bench_owner.hpp"
#include "instruments/phrasebook/standard.hpp"

namespace eyelevel::program {

class SimulatedBenches {
 public:
  SimulatedBenches(base::Timeline& timeline, const phrasebook::Phrasebooks& phrasebooks);
  SimulatedBenches(const SimulatedBenches&) = delete;
  SimulatedBenches& operator=(const SimulatedBenches&) = delete;
  ~SimulatedBenches();

  // A unit and instruments of their own for each; must outlive what it gives.
  service::BenchSetting add(const bench::BenchFile& bench);

 private:
  struct One;
  base::Timeline& timeline_;
  const phrasebook::Phrasebooks& phrasebooks_;
  std::vector<std::unique_ptr<One>> all_;
};

}  // namespace eyelevel::program
