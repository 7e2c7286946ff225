// SPDX-License-Identifier: Apache-2.0
// The benches of the daemon as their files say, and what reaches their instruments.
#pragma once

#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/program/eyeleveld/simulated.hpp"
#include "core/program/plugins.hpp"
#include "core/service/bench_owner.hpp"
#include "instruments/phrasebook/phrasebook.hpp"

namespace eyelevel::program {

class Benches {
 public:
  // References must outlive it, and it outlives what it gave.
  Benches(std::vector<std::string> files, std::string folder, bool is_simulated, const Equipment& equipment,
          base::Timeline& timeline);

  // Reads the files, and those that end in .yaml in the folder (empty: none), by name; nothing is opened. Prints
  // mistakes and throws base::Error(bad_input) for a file that cannot be used, for two benches of one name, and for an
  // instrument that stands on two.
  std::vector<service::BenchSetting> read();

 private:
  service::BenchSetting setting_of(const bench::BenchFile& bench);

  std::vector<std::string> files_;
  std::string folder_;
  bool is_simulated_;
  const Equipment& equipment_;
  base::Timeline& timeline_;
  phrasebook::Phrasebooks phrasebooks_ = phrasebook::standard_phrasebooks();
  SimulatedBenches simulated_;
};

}  // namespace eyelevel::program
