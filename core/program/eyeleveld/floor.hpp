// SPDX-License-Identifier: Apache-2.0
// The benches that a daemon has now. Which they are may change while it runs.
#pragma once

#include <memory>
#include <vector>

#include "core/program/daemon_note.hpp"
#include "core/program/eyeleveld/benches.hpp"
#include "core/service/bench_owner.hpp"
#include "core/service/house.hpp"

namespace eyelevel::program {

class Floor {
 public:
  // References must outlive it.
  Floor(service::House& house, Benches& benches, std::vector<service::BenchSetting> settings);

  // Whoever is not in it any more still lives: others may be looking at it.
  const std::vector<service::BenchOwner*>& owners() const { return owners_; }
  // Reads the files anew. Each bench takes its own when it is idle; new ones are in owners() and are to be set to work;
  // those without a file do no further job. Throws base::Error(bad_input), and then changed nothing. Answers what each
  // will be.
  std::vector<NotedBench> reload();
  // Its work is over.
  void ended(const service::BenchOwner& owner);

 private:
  void add(service::BenchSetting setting);
  service::BenchOwner* find(const std::string& name) const;
  void require_free(const std::vector<service::BenchSetting>& settings) const;

  service::House& house_;
  Benches& benches_;
  std::vector<std::unique_ptr<service::BenchOwner>> owned_;
  std::vector<service::BenchOwner*> owners_;
};

}  // namespace eyelevel::program
