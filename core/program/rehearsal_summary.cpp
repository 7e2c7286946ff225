// SPDX-License-Identifier: Apache-2.0
#include "core/program/rehearsal_summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/json.hpp>
#include <string>

#include "core/program/run_output.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

int count_of(const sim::TroubleCount& trouble, sim::Caught caught) {
  const auto found = trouble.caught.find(caught);
  return found == trouble.caught.end() ? 0 : found->second;
}

std::string place_text(const event::Place& place, const std::string& file) {
  return fmt::format("{}:{}: {}", place.file.empty() ? file : place.file, place.line, place.text);
}

void print_troubles(const sim::Tally& tally) {
  if (tally.troubles().empty()) return;
  fmt::print("\n{:<29}{:>6}{:>8}{:>9}{:>10}{:>10}{:>7}\n", "", "", "caught,", "caught,", "", "left to", "wrong");
  fmt::print("{:<29}{:>6}{:>8}{:>9}{:>10}{:>10}{:>7}\n", "trouble", "units", "named", "misnamed", "harmless", "proof",
             "pass");
  for (const auto& [name, trouble] : tally.troubles())
    fmt::print("{:<29}{:>6}{:>8}{:>9}{:>10}{:>10}{:>7}\n", name, trouble.units, count_of(trouble, sim::Caught::named),
               count_of(trouble, sim::Caught::misnamed), count_of(trouble, sim::Caught::harmless),
               count_of(trouble, sim::Caught::left_to_proof), count_of(trouble, sim::Caught::wrong_pass));
  fmt::print("\n");
}

// Only what was missed is named.
void print_coverage(const sim::Coverage& coverage) {
  const auto steps = coverage.steps();
  const auto branches = coverage.branches();
  const auto is_reached = [](const auto& row) { return row.times > 0; };
  fmt::print("coverage: {} of {} steps, {} of {} branches\n", std::count_if(steps.begin(), steps.end(), is_reached),
             steps.size(), std::count_if(branches.begin(), branches.end(), is_reached), branches.size());
  const std::string& file = coverage.watched().file;
  for (const auto& step : steps)
    if (!is_reached(step)) fmt::print("  not reached: {}\n", place_text(step.place, file));
  for (const auto& branch : branches)
    if (!is_reached(branch)) fmt::print("  never taken: `{}` of {}\n", branch.branch, place_text(branch.place, file));
}

std::string key_of(sim::Caught caught) {
  std::string key(sim::name_of(caught));
  std::erase(key, ',');
  std::replace(key.begin(), key.end(), ' ', '_');
  return key;
}

json::object place_json(const event::Place& place, const std::string& file) {
  return {{"file", place.file.empty() ? file : place.file},
          {"line", place.line},
          {"column", place.column},
          {"step", place.text}};
}

json::object coverage_json(const sim::Coverage& coverage) {
  const std::string& file = coverage.watched().file;
  json::array steps, branches;
  for (const auto& step : coverage.steps()) {
    auto row = place_json(step.place, file);
    row["reached"] = step.times;
    steps.push_back(std::move(row));
  }
  for (const auto& branch : coverage.branches()) {
    auto row = place_json(branch.place, file);
    row["branch"] = branch.branch;
    row["taken"] = branch.times;
    branches.push_back(std::move(row));
  }
  return {{"steps", std::move(steps)}, {"branches", std::move(branches)}};
}

// What adjusting really did: `turning` holds each turn, so that the first can be told from those that follow it.
void add_turning(json::object& unit, const std::vector<sim::TurnDone>& turns) {
  const auto or_null = [](const std::optional<double>& v) { return v ? json::value(*v) : json::value(); };
  json::array list;
  for (const auto& turn : turns)
    list.push_back(json::object{
        {"asked_deg", turn.asked_deg}, {"turned_deg", turn.turned_deg}, {"highest_level_v", or_null(turn.highest_v)}});
  unit["highest_level_v"] = or_null(sim::highest_v(turns, true));
  unit["highest_level_any_v"] = or_null(sim::highest_v(turns, false));
  unit["turning"] = std::move(list);
}

}  // namespace

json::object rehearsed_json(record::Store& store, const sim::UnitOutcome& unit) {
  auto object = unit_output(store, unit.result, unit.simulated_s, unit.wall_s, UnitTruth{unit.truths, unit.troubles});
  if (object.contains("turns")) add_turning(object, unit.turns);
  object["wrong"] = unit.wrong.empty() ? json::value() : json::value(unit.wrong);
  object["caught"] = unit.caught ? json::value(sim::name_of(*unit.caught)) : json::value();
  return object;
}

void print_summary(const sim::Tally& tally, const sim::Coverage& coverage, double wall_s) {
  print_troubles(tally);
  print_coverage(coverage);
  const auto& endings = tally.endings();
  std::string never;
  for (const auto& [ending, times] : endings)
    if (times == 0) never += (never.empty() ? "" : ", ") + ending;
  fmt::print("{} units in {:.1f} s: {} pass, {} fail, {} undecided, {} not judged, {} stopped{}\n", tally.units(),
             wall_s, endings.at("pass"), endings.at("fail"), endings.at("undecided"), endings.at("not judged"),
             endings.at("stopped"), never.empty() ? "" : "; no unit ended as " + never);
  fmt::print("{} did not end as they must, {} passed wrongly\n", tally.wrong(), tally.wrong_passes());
}

json::object summary_json(const sim::Tally& tally, const sim::Coverage& coverage) {
  json::object endings;
  for (const auto& [ending, times] : tally.endings()) endings[ending] = times;
  json::array troubles;
  for (const auto& [name, trouble] : tally.troubles()) {
    json::object row{{"name", name}, {"units", trouble.units}};
    for (const sim::Caught caught : sim::all_caught) row[key_of(caught)] = count_of(trouble, caught);
    troubles.push_back(std::move(row));
  }
  return {{"endings", std::move(endings)},
          {"troubles", std::move(troubles)},
          {"wrong_passes", tally.wrong_passes()},
          {"coverage", coverage_json(coverage)}};
}

}  // namespace eyelevel::program
