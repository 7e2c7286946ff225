// SPDX-License-Identifier: Apache-2.0
// Which cause it is likely to be: Bayes' rule over the table of likelihoods, each evidence counted by its weight and
// otherwise as independent. Causes that the evidence at hand cannot tell apart are one suspect and named together.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "core/diagnosis/names.hpp"
#include "core/diagnosis/observe.hpp"
#include "core/diagnosis/table.hpp"

namespace eyelevel::diagnosis {

// What one evidence says of a suspect: natural logarithm of how much likelier it is with that cause than with the
// others, weighted by what is believed of them; positive speaks for it.
struct Argument {
  std::size_t observation = 0;  // place in the observations
  double weight = 0;
};

struct Suspect {
  std::vector<std::size_t> causes;  // places in causes(), the likeliest first
  std::string name;                 // "lens dirty or mirror dirty"
  double belief = 0;                // of all of them together, 0..1
  std::vector<Argument> arguments;  // the weightiest first
};

struct Diagnosis {
  std::vector<double> belief;     // by cause, sums to 1
  std::vector<Suspect> suspects;  // the likeliest first
  bool is_known = false;          // the first one is believed enough to be told; otherwise the answer is "don't know"
};

// Below this belief nothing is claimed (common practice).
inline constexpr double belief_least = 0.6;
// Two causes whose values of the evidence at hand overlap like this (1: the same) cannot be told apart.
inline constexpr double overlap_least = 0.8;

// P(cause | observations), by cause. A kind of wear that the player cannot have is left out. Throws Error(bad_input)
// when an evidence stands there twice: it would count double.
std::vector<double> beliefs(const Table& table, std::span<const Observation> observations, const Situation& situation);

// Product over the evidences looked at of the sum of sqrt(P(value | a) P(value | b)): Bhattacharyya's coefficient.
double overlap(const Table& table, std::span<const Observation> observations, std::size_t a, std::size_t b);

Diagnosis diagnose(const Table& table, std::span<const Observation> observations, const Situation& situation);

}  // namespace eyelevel::diagnosis
