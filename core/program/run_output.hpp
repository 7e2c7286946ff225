// SPDX-License-Identifier: Apache-2.0
// What `run` and `rehearse` print of their units: the JSON object of the contract, and the exit status.
#pragma once

#include <boost/json/object.hpp>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/record/store/store.hpp"
#include "core/sequence/runner/run.hpp"

namespace eyelevel::program {

struct UnitTruth {
  std::map<std::string, double> readings;
  std::vector<std::string> troubles;
};

// One entry of `units`, from the record.
boost::json::object unit_output(record::Store& store, const sequence::RunResult& result, double simulated_s,
                                double wall_s, const std::optional<UnitTruth>& truth);

// 0 finished and every limit met (or nothing judged), 1 failed or undecided, 3 stopped.
int status_of(const sequence::RunResult& result);

}  // namespace eyelevel::program
