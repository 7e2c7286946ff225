// SPDX-License-Identifier: Apache-2.0
// Counted things in sentences: "1 sample", "2 samples". For plurals that an s makes.
#pragma once

#include <fmt/format.h>

#include <concepts>
#include <string>
#include <string_view>

namespace eyelevel::quantity {

// The thing in the singular; one of several words takes the s at its end.
template <std::integral Count>
std::string counted(Count count, std::string_view thing) {
  return fmt::format("{} {}{}", count, thing, count == 1 ? "" : "s");
}

}  // namespace eyelevel::quantity
