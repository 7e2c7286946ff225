// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyeleveld/rehearser.hpp"

#include <boost/json.hpp>
#include <memory>
#include <utility>

#include "core/program/files.hpp"
#include "core/program/rehearsal_summary.hpp"
#include "core/program/run_output.hpp"
#include "core/record/store/store.hpp"
#include "core/service/library.hpp"
#include "sim/rehearsal/rehearse.hpp"
#include "sim/trouble/trouble.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

json::array list_of_troubles() {
  const auto troubles = sim::ready_troubles();
  json::array list;
  for (const auto& entry : troubles.list())
    list.push_back(json::object{{"name", entry.declaration.name},
                                {"about", entry.declaration.about},
                                {"told", entry.call.told},
                                {"must", sim::in_words(entry.call.demand)}});
  return list;
}

}  // namespace

service::Rehearser rehearser(std::filesystem::path sequences, std::filesystem::path models,
                             const sequence::Language& language) {
  const auto rehearse = [sequences = std::move(sequences), models = std::move(models), &language](
                            const service::RehearsalOrder& order, const std::function<void(int)>& done,
                            std::stop_token stop) {
    const auto sequence = service::load_sequence(sequences, order.sequence, language, order.given);
    const auto bench = embedded_bench();
    const auto model = service::load_model(models, order.model).value_or(embedded_model());
    service::require_fit(sequence, bench, model);
    const auto phrasebooks = phrasebook::standard_phrasebooks();
    const auto troubles = sim::ready_troubles();
    const auto store = record::open_memory_store({.keep_captures = false});
    const sim::Coverage coverage(sequence);
    sim::Tally tally;
    json::array units;
    // One thread: the benches keep the other processors.
    sim::rehearse({.sequence = coverage.watched(),
                   .bench = bench,
                   .model = &model,
                   .phrasebooks = phrasebooks,
                   .troubles = troubles,
                   .seed = order.seed,
                   .units = order.units,
                   .wanted_troubles = order.troubles,
                   .trouble_rate = order.trouble_rate,
                   .threads = 1,
                   .stop = std::move(stop)},
                  *store, [&](const sim::UnitOutcome& unit) {
                    units.push_back(rehearsed_json(*store, unit));
                    tally.add(unit);
                    done(tally.units());
                  });
    json::object all{{"sequence", sequence.name}, {"seed", order.seed}, {"units", std::move(units)}};
    for (auto& entry : summary_json(tally, coverage)) all[entry.key()] = std::move(entry.value());
    all["not_as_they_must"] = tally.wrong();
    return all;
  };
  return {.troubles = list_of_troubles, .rehearse = rehearse};
}

}  // namespace eyelevel::program
