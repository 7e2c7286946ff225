// SPDX-License-Identifier: Apache-2.0
// `eyelevel workshop unit | spares`: a unit over the years and what may be said of its life; what to buy spares for.
#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/workshop.hpp"
#include "core/program/store_place.hpp"
#include "core/record/books/names.hpp"
#include "core/record/books/pickup_book.hpp"
#include "core/record/find_readings.hpp"
#include "core/report/workshop/spares.hpp"
#include "core/report/workshop/unit_history.hpp"

namespace eyelevel::program {

namespace {

namespace workshop = report::workshop;
namespace json = boost::json;
using base::Error;
using base::ErrorCode;

constexpr double worn_above_label = 1.2;  // common practice; makers' own limits lie 14 % to 84 % above it

struct HistoryOptions : BookOptions {
  std::string serial;
  std::string model;
  std::string power_loop;
  std::string current_limit;
  std::string level;
  std::string current;
};

std::optional<bool> power_loop_of(const std::string& word) {
  if (word.empty()) return std::nullopt;
  if (word == "yes" || word == "no") return word == "yes";
  throw Error(ErrorCode::bad_input, fmt::format("--power-loop: \"{}\" is none", record::shown(word)), "yes or no");
}

std::optional<double> label_of(record::Store& store, const record::UnitBook& unit) {
  if (!unit.pickup) return std::nullopt;
  for (const auto& pickup : record::pickups_of(record::entries_about(store, unit.pickup->name)))
    if (pickup.name == unit.pickup->name) return pickup.label_current_a;
  return std::nullopt;
}

void take_limit(record::Store& store, const std::optional<record::UnitBook>& unit, const std::string& given,
                workshop::UnitFacts& facts) {
  if (!given.empty()) {
    facts.current_limit_a = quantity_of("--current-limit", given, quantity::current);
    facts.limit_from = "--current-limit";
    return;
  }
  const auto label = unit ? label_of(store, *unit) : std::nullopt;
  if (!label) return;
  facts.current_limit_a = worn_above_label * *label;
  facts.limit_from = fmt::format("the label's {:.3g} mA and 20 %, common practice", 1e3 * *label);
}

int history(const HistoryOptions& options) {
  workshop::UnitFacts facts;
  facts.has_power_loop = power_loop_of(options.power_loop);
  facts.level_name = options.level;
  facts.current_name = options.current;
  facts.serial = options.serial;
  const auto store = open_store_to_read(options.store);
  const auto unit = record::find_unit(*store, options.serial, options.model);
  facts.model = unit ? unit->model : options.model;
  if (unit) facts.hours = workshop::hours_of(*unit);
  if (unit && unit->pickup) facts.pickup_since = unit->pickup->since;
  take_limit(*store, unit, options.current_limit, facts);
  record::ReadingQuery query;
  query.serial = options.serial;
  if (!options.model.empty()) query.model = options.model;
  const auto rows = record::find_readings(*store, query);
  if (rows.empty() && !unit)
    throw Error(
        ErrorCode::not_found,
        fmt::format("neither a run nor the books of {} know a unit {}", store->name(), record::shown(options.serial)),
        "eyelevel records lists the runs with their serials");
  const auto seen = workshop::history_of(rows, facts);
  std::vector<std::string> lines = seen.sentences;
  lines.emplace_back();
  for (const std::string& line : workshop::history_table(seen)) lines.push_back(line);
  tell(options, workshop::to_json(seen), lines);
  return all_met;
}

int spares(const BookOptions& options) {
  const auto store = open_store_to_read(options.store);
  const auto needs = workshop::spares_of(record::pickups_of(store->book({})), utc_now());
  json::array list;
  for (const auto& need : needs)
    list.push_back(
        json::object{{"part", or_null(need.part)},
                     {"pickups", need.pickups},
                     {"inside", need.inside},
                     {"fitted_new", need.fitted_new},
                     {"years", need.years},
                     {"a_year", or_null(need.a_year)},
                     {"at_most_next_year", need.at_most ? json::value(*need.at_most) : json::value(nullptr)}});
  const auto lines =
      needs.empty() ? std::vector<std::string>{"The books know no pickup."} : workshop::spares_table(needs);
  tell(options, json::object{{"parts", std::move(list)}, {"coverage_probability", 0.95}}, lines);
  return all_met;
}

}  // namespace

void add_workshop_unit(CLI::App* app, Chosen& chosen) {
  auto options = std::make_shared<HistoryOptions>();
  auto* unit = app->add_subcommand("unit", "A unit over the years: readings, hours, trend, and its laser's life");
  unit->footer("Example:\n  eyelevel workshop unit LF2-00417 --power-loop yes");
  unit->add_option("serial", options->serial, "serial number of the unit")->required();
  unit->add_option("--model", options->model, "its model; tells apart two units of one serial");
  unit->add_option("--power-loop", options->power_loop,
                   "yes or no: whether a loop holds the laser's light, so that wear raises its current");
  unit->add_option("--current-limit", options->current_limit,
                   "laser current at its end (54 mA); usual: the pickup's label and 20 %");
  unit->add_option("--level", options->level, "name of the level's reading; usual: the only one in volts called so");
  unit->add_option("--current", options->current,
                   "name of the laser current's reading; usual: the only one in amperes");
  add_store_options(unit, *options);
  unit->callback([options, &chosen] { chosen = [options] { return history(*options); }; });

  auto plain = std::make_shared<BookOptions>();
  auto* parts = app->add_subcommand("spares", "Pickups by part: how many were fitted new, how many may be needed");
  parts->footer("Example:\n  eyelevel workshop spares");
  add_store_options(parts, *plain);
  parts->callback([plain, &chosen] { chosen = [plain] { return spares(*plain); }; });
}

}  // namespace eyelevel::program
