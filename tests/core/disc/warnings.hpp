// SPDX-License-Identifier: Apache-2.0
// What the tests of disc::analyse ask of its warnings.
#pragma once

#include <algorithm>
#include <string>

#include "core/disc/analysis.hpp"

namespace eyelevel::disc {

inline bool warns_of(const Analysis& a, const std::string& word) {
  return std::any_of(a.warnings.begin(), a.warnings.end(),
                     [&](const std::string& w) { return w.find(word) != std::string::npos; });
}

}  // namespace eyelevel::disc
