// SPDX-License-Identifier: Apache-2.0
// Closes the record of a run whose daemon ended in its middle.
#pragma once

#include <string>

#include "core/base/timeline.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::service {

// Adds what broke it off, and its end "stopped"; nothing when it is closed already. Blocks.
void close_run(record::Store& store, const std::string& run, base::UtcTime now);

}  // namespace eyelevel::service
