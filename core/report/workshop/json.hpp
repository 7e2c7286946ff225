// SPDX-License-Identifier: Apache-2.0
// The workshop's figures as JSON, for programs.
#pragma once

#include <boost/json/object.hpp>

#include "core/report/workshop/workshop.hpp"

namespace eyelevel::report::workshop {

// { "reading", "unit", "readings", "sentences", "yield": { "all", "by_model": [ ... ], ... }, "charts": [ ... ],
//   "check_unit", "checks": [ ... ], "capability": [ ... ], "operators": null | { ... }, "notes" }; deviations and
// limits in the unit of the reading; intervals are those of 95 %.
boost::json::object to_json(const Workshop& workshop);

}  // namespace eyelevel::report::workshop
