// SPDX-License-Identifier: Apache-2.0
// What measures have in common: how a reading begins and ends, and, of those that are made from kept captures, one
// value per capture.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

// The value of each capture that has one. Throws Error(bad_answer) when fewer than two have: nothing is said from one.
std::vector<double> value_per_capture(const CaptureSet& set, std::string_view measure,
                                      const std::function<std::optional<double>(const disc::Analysis&)>& value);

// A reading of a signal that begins now; value, budget, interval and its end are still to come.
metrology::Reading begin_reading(RunContext& context, const SignalPlace& signal, std::string measure, std::string unit,
                                 std::int64_t count);

// A reading with everything but value, budget and interval. When too many captures were rejected it says so and is
// marked as one that cannot pass.
metrology::Reading reading_from(RunContext& context, const CaptureSet& set, std::string measure, std::string unit);

// Merges the budget and fills value and interval.
void complete(metrology::Reading& reading, double value, const std::vector<metrology::Contribution>& budget);

}  // namespace eyelevel::sequence
