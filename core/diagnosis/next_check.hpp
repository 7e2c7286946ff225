// SPDX-License-Identifier: Apache-2.0
// What to look at next: of the checks that are safe and possible, the one that is expected to leave the least entropy
// among the causes.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

#include "core/diagnosis/diagnose.hpp"

namespace eyelevel::diagnosis {

struct NextCheck {
  std::size_t evidence = 0;       // place in evidences(); it has a `check`
  double expected_gain_bits = 0;  // by which the entropy is expected to fall
};

// Entropy of the beliefs, in bits.
double entropy_bits(std::span<const double> belief);

// Empty: no check that is safe and possible would tell anything worth its while (less than 0.01 bit). `declined`:
// evidences that whoever is asked could not get.
std::optional<NextCheck> next_check(const Table& table, std::span<const Observation> observations,
                                    const Situation& situation, std::span<const std::size_t> declined = {});

}  // namespace eyelevel::diagnosis
