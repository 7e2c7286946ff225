// SPDX-License-Identifier: Apache-2.0
// How often a diagnosis finds the cause of drawn units, at once and after the checks that it asked for.
#pragma once

#include <array>
#include <cstdint>
#include <string>

#include "core/diagnosis/table.hpp"

namespace eyelevel::test {

inline constexpr int checks_most = 5;

struct Score {
  int units = 0;
  // After so many answered checks: the cause, or the suspect that it is named in, first; among the first two.
  std::array<int, checks_most + 1> first{}, among_two{};
  std::array<int, checks_most + 1> sure_and_wrong{};  // another cause is believed to more than 0.8
  std::array<int, checks_most + 1> dont_know{};
  std::string table_by_cause;  // one line a cause: first at once and in the end
};

// Of which causes units are drawn, and expected: as the priors have it, or each as often as any other.
enum class Mix { workshop, even };

// About so many units; no two with one seed. Causes without physics are neither drawn nor expected.
Score score(diagnosis::Table table, Mix mix, int units, std::uint64_t seed);

}  // namespace eyelevel::test
