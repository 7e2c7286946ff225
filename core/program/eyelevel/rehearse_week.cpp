// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/rehearse_week.hpp"

#include <fmt/format.h>

#include <boost/json.hpp>
#include <cstdio>
#include <stdexcept>

#include "core/base/error.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/files.hpp"
#include "core/program/interrupt.hpp"
#include "core/program/output.hpp"
#include "core/program/plugins.hpp"
#include "core/program/store_place.hpp"
#include "core/quantity/counted.hpp"
#include "core/report/words.hpp"
#include "sim/rehearsal/play.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

sim::Week read(const std::string& file, const sim::Troubles& troubles) {
  auto read = sim::read_week(yaml::load_file(file), troubles);
  for (const auto& mistake : read.mistakes.list()) put(stderr, yaml::print(mistake) + "\n");
  if (!read.mistakes.fine())
    throw base::Error(base::ErrorCode::bad_input, fmt::format("{} cannot be used as it stands", file),
                      "mend what is listed above");
  return std::move(read.week);
}

std::unique_ptr<record::Store> empty_store(const std::string& where) {
  auto store = open_store_to_write(where);
  record::RunQuery any;
  any.at_most = 1;
  if (!store->runs(any).empty())
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("the store {} holds runs already; nothing was written", store->name()),
                      "what is played is never mixed with what was measured: name a store of its own");
  return store;
}

std::string line_of(const sim::WeekVisit& visit, const std::string& bench, const sim::UnitOutcome& unit) {
  std::string line = fmt::format("{}  {:<9} {:<6} {:<10} {}", report::time_text(visit.begun), bench, visit.by,
                                 unit.serial, report::judgement_text(unit.result.judgement));
  if (unit.result.error) line += "; stopped: " + unit.result.error->message;
  return line;
}

}  // namespace

int rehearse_week(const WeekWish& wish) {
  const auto troubles = sim::ready_troubles();
  const auto week = read(wish.file, troubles);
  const auto equipment = equip_and_tell(wish.plugins);
  const auto sequence = load_sequence(week.path_of(week.sequence), equipment.language, {});
  const auto bench = week.bench.empty() ? embedded_bench() : load_bench(week.path_of(week.bench));
  const auto model = week.model.empty() ? embedded_model() : load_model(week.path_of(week.model));
  require_fit(sequence, bench, &model);
  const auto store = empty_store(wish.store);
  const auto phrasebooks = phrasebook::standard_phrasebooks();
  record::StoreThread store_thread;
  const Interrupt interrupt;
  std::size_t played = 0;
  const sim::RehearsalPlan plan{.sequence = sequence,
                                .bench = bench,
                                .model = &model,
                                .phrasebooks = phrasebooks,
                                .troubles = troubles,
                                .store_thread = &store_thread,
                                .stop = interrupt.token()};
  sim::play(week, plan, *store, [&](const sim::WeekVisit& visit, const sim::UnitOutcome& unit) {
    ++played;
    if (!wish.as_json) fmt::print("{}\n", line_of(visit, week.benches[visit.bench].name, unit));
    if (std::fflush(stdout) != 0) throw std::runtime_error("standard output cannot be written");
  });
  const std::string end = fmt::format("{} were played into {}", quantity::counted(played, "run"), store->name());
  if (wish.as_json)
    fmt::print("{}\n", json::serialize(json::object{{"week", week.about}, {"store", store->name()}, {"runs", played}}));
  else
    fmt::print("{}; they are a simulator's, not measured\n", end);
  if (!interrupt.token().stop_requested()) return all_met;
  put(stderr, "eyelevel: stopped by request\n");
  return not_finished;
}

}  // namespace eyelevel::program
