// SPDX-License-Identifier: Apache-2.0
// What an attempt throws, as a record.
#pragma once

#include <optional>

#include "core/base/error.hpp"
#include "core/base/task.hpp"

namespace eyelevel::test {

// Empty when nothing was thrown.
template <class Attempt>
task<std::optional<base::ErrorRecord>> error_in(Attempt attempt) {
  std::optional<base::ErrorRecord> record;
  try {
    co_await attempt();
  } catch (const base::Error& error) {
    record = error.record();
  }
  co_return record;
}

// The same where something must be thrown.
template <class Attempt>
task<base::ErrorRecord> error_of(Attempt attempt) {
  base::ErrorRecord nothing;
  nothing.message = "nothing was thrown";
  const std::optional<base::ErrorRecord> record = co_await error_in(attempt);
  co_return record.value_or(nothing);
}

}  // namespace eyelevel::test
