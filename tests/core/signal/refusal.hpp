// SPDX-License-Identifier: Apache-2.0
// What a reader says of a file that it refuses: "where: message", or "was read" if it does not refuse.
#pragma once

#include <catch2/catch.hpp>

#include <string>

#include "core/base/error.hpp"

namespace eyelevel::test {

template <class Read>
std::string refusal_of(Read read) {
  try {
    read();
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_input);
    return error.record().where + ": " + error.record().message;
  }
  return "was read";
}

}  // namespace eyelevel::test
