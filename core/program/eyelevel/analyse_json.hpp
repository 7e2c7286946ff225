// SPDX-License-Identifier: Apache-2.0
// The JSON of `eyelevel analyse --json`. Keys without a value are there with null.
#pragma once

#include <boost/json/object.hpp>

#include "core/disc/analysis.hpp"

namespace eyelevel::program {

boost::json::object analysis_json(const disc::Analysis& a, const disc::CircStrategy& strategy);

}  // namespace eyelevel::program
