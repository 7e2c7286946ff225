// SPDX-License-Identifier: Apache-2.0
// Names of runs: short enough to be read over the bench, and the nearest known one when somebody mistypes.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::record {

std::string day_of(base::UtcTime time);  // "2030-01-07"
std::string run_name(std::string_view day, std::int64_t number);

// Edits (insert, delete, replace) between two names.
std::size_t distance(std::string_view a, std::string_view b);

// Error(not_found) for a run that is not in the store; `known` newest first.
[[noreturn]] void throw_unknown_run(std::string_view wanted, std::string_view store,
                                    const std::vector<RunSummary>& known);

// Brings the summary up to date with one more event.
void take_into(RunSummary& summary, const event::Event& event);

// "eyelevel 0.1.0": what writes runs.
std::string program_name();

}  // namespace eyelevel::record
