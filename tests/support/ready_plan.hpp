// SPDX-License-Identifier: Apache-2.0
// Everything a rehearsal of a ready sequence needs, held together for tests. Paths are seen from the top of the tree.
#pragma once

#include <optional>
#include <stdexcept>
#include <string>

#include "core/bench/model_sheet.hpp"
#include "core/sequence/language/check.hpp"
#include "core/sequence/verb/ready.hpp"
#include "core/yaml/load.hpp"
#include "sim/rehearsal/rehearse.hpp"
#include "tests/support/small_bench.hpp"

namespace eyelevel::test {

struct ReadyPlan {
  explicit ReadyPlan(const std::string& name, bench::BenchFile on = small_bench()) : bench(std::move(on)) {
    auto document = yaml::load_file("sequences/ready/" + name + ".yaml");
    sequence = sequence::check(document, language);
    require(sequence.has_value(), name);
    auto sheet = bench::read_model_sheet("examples/models/lf-2.yaml");
    require(sheet.mistakes.fine(), "lf-2");
    model = std::move(sheet.sheet);
  }

  sim::RehearsalPlan plan(std::uint64_t seed, int units, std::vector<std::string> with = {}) const {
    return {.sequence = *sequence,
            .bench = bench,
            .model = &model,
            .phrasebooks = phrasebooks,
            .troubles = troubles,
            .seed = seed,
            .units = units,
            .wanted_troubles = std::move(with)};
  }
  std::vector<sim::UnitOutcome> rehearse(const sim::RehearsalPlan& what) const {
    const auto store = record::open_memory_store({.keep_captures = false});
    std::vector<sim::UnitOutcome> units;
    sim::rehearse(what, *store, [&](sim::UnitOutcome&& unit) { units.push_back(std::move(unit)); });
    return units;
  }

  static void require(bool good, const std::string& what) {
    if (!good) throw std::logic_error(what + " does not check");
  }

  sequence::Language language = sequence::ready_language();
  bench::BenchFile bench;
  bench::ModelSheet model;
  std::optional<sequence::Sequence> sequence;
  phrasebook::Phrasebooks phrasebooks = phrasebook::standard_phrasebooks();
  sim::Troubles troubles = sim::ready_troubles();
};

}  // namespace eyelevel::test
