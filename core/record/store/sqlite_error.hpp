// SPDX-License-Identifier: Apache-2.0
// What SQLite says when it refuses, as our error record.
#pragma once

#include <SQLiteCpp/Exception.h>

#include <string>

#include "core/base/error.hpp"

namespace eyelevel::record {

struct Cause {
  std::string message;
  std::string advice;
};
Cause cause_of(const SQLite::Exception& e);

// `attempted`: "reserving a run".
base::Error error_of(base::ErrorCode code, const std::string& path, const std::string& attempted,
                     const SQLite::Exception& e);

// Error(bad_input) of a file that is not what it should be.
base::Error bad_file(const std::string& path, std::string message, std::string advice);

}  // namespace eyelevel::record
