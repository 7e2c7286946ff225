// SPDX-License-Identifier: Apache-2.0
// A diagnosis as a technician reads it.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/diagnosis/diagnose.hpp"

namespace eyelevel::diagnosis {

struct Finding {
  std::string cause;             // "lens dirty or mirror dirty", "don't know"
  std::string because;           // what speaks for it and against it
  std::optional<double> belief;  // 0..1; empty: nothing is claimed
};

// The likeliest first, at most three, none below 5 % but the first. Where nothing is believed enough, "don't know"
// stands before them.
std::vector<Finding> findings(const Diagnosis& diagnosis, std::span<const Observation> observations);

}  // namespace eyelevel::diagnosis
