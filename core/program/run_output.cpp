// SPDX-License-Identifier: Apache-2.0
#include "core/program/run_output.hpp"

#include <boost/json.hpp>

#include "core/program/eyelevel/command.hpp"
#include "core/record/run_record.hpp"
#include "core/report/run_json.hpp"

namespace eyelevel::program {

namespace json = boost::json;

json::object unit_output(record::Store& store, const sequence::RunResult& result, double simulated_s, double wall_s,
                         const std::optional<UnitTruth>& truth) {
  auto unit = report::unit_json(record::read_run(store, result.run));
  // What the record could not take any more, the run itself knows.
  unit["ended"] = result.ended;
  if (result.error) {
    unit["error"] = report::error_json(*result.error);
    unit["judgement"] = nullptr;
  }
  unit["simulated_s"] = simulated_s;
  unit["wall_s"] = wall_s;
  if (truth) {
    json::object readings;
    for (const auto& [name, value] : truth->readings) readings[name] = value;
    json::array troubles;
    for (const auto& name : truth->troubles) troubles.emplace_back(name);
    unit["truth"] = json::object{{"readings", std::move(readings)}, {"troubles", std::move(troubles)}};
  }
  return unit;
}

int status_of(const sequence::RunResult& result) {
  if (result.ended != "finished") return not_finished;
  return !result.judgement || result.judgement == metrology::Judgement::pass ? all_met : not_met;
}

}  // namespace eyelevel::program
