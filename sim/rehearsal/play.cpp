// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/play.hpp"

#include <fmt/format.h>

#include <chrono>
#include <span>

#include "core/record/books/pickup_book.hpp"
#include "core/record/books/unit_book.hpp"

namespace eyelevel::sim {
namespace {

// What stands in the books before a unit is measured.
void take_in(const Week& week, const WeekVisit& visit, const std::string& serial, const std::string& model,
             record::Store& store) {
  const record::Said said{visit.begun - std::chrono::minutes(5), visit.by, "taken in"};
  const std::string pickup = fmt::format("PU-{:05}", visit.unit);
  const record::BookEntry entries[] = {
      record::entry_of(record::TakenIn{model, "does not play every disc", visit.hours}, serial, "", said),
      record::entry_of(record::PickupDescribed{.part = week.pickup_part, .connector = {}, .lot = visit.lot}, pickup, "",
                       said),
      record::entry_of(record::PickupFitted{model, visit.hours, visit.hours}, pickup, serial, said)};
  store.note(entries);
}

}  // namespace

void play(const Week& week, RehearsalPlan plan, record::Store& store,
          const std::function<void(const WeekVisit&, const UnitOutcome&)>& done) {
  plan.seed = week.seed;
  plan.trouble_rate = 0;
  plan.wanted_troubles.clear();
  const std::string model = plan.model != nullptr ? plan.model->model : std::string();
  std::uint64_t number = 0;
  for (const WeekVisit& visit : visits_of(week)) {
    if (plan.stop.stop_requested()) return;
    const bool is_check = visit.unit == 0;
    Occasion occasion{.serial = is_check ? week.check_unit : serial_of(model, visit.unit),
                      .begun = visit.begun,
                      .by = visit.by,
                      .bench = week.benches[visit.bench].name,
                      .probe_drift = visit.probe_drift,
                      .visit = ++number,
                      .troubles = visit.troubles};
    if (!is_check) take_in(week, visit, occasion.serial, model, store);
    done(visit, rehearse_unit(plan, visit.unit, store, {}, occasion));
  }
}

}  // namespace eyelevel::sim
