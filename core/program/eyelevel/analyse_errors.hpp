// SPDX-License-Identifier: Apache-2.0
// What `eyelevel analyse` says of errors, of the sectors of a data track and of the sound of an audio track: keys of
// the JSON and lines of the page. Not for the eye: analyse.cpp.
#pragma once

#include <boost/json/object.hpp>

#include "core/disc/analysis.hpp"

namespace eyelevel::program {

void put_errors(boost::json::object& object, const disc::Analysis& a, const disc::CircStrategy& strategy);
void print_errors(const disc::Analysis& a, const disc::CircStrategy& strategy);

}  // namespace eyelevel::program
