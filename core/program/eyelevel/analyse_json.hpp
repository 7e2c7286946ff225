// SPDX-License-Identifier: Apache-2.0
// The JSON of `eyelevel analyse --json`. Keys without a value are there with null.
#pragma once

#include <boost/json/object.hpp>
#include <optional>

#include "core/disc/analysis.hpp"
#include "core/program/eyelevel/analyse_test_disc.hpp"

namespace eyelevel::program {

// `disc`: if a test disc was looked for.
boost::json::object analysis_json(const disc::Analysis& a, const disc::CircStrategy& strategy,
                                  const std::optional<KnownDisc>& disc);

}  // namespace eyelevel::program
