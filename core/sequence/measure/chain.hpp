// SPDX-License-Identifier: Apache-2.0
// What lies between the unloaded pad and the number an instrument gives: its errors by class, the probe, the loading of
// the pad. Half-widths are those of the bench file, read as "within these bounds and nothing more is known"
// (GUM 4.3.7). Each error has a source name that stays the same from reading to reading, so that it cancels in a
// difference or ratio.
#pragma once

#include <string>
#include <vector>

#include "core/metrology/reading.hpp"
#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

struct Chain {
  std::string instrument;   // "scope channel 1", "meter"
  double gain = 0;          // half-width, share of the value
  double offset_v = 0;      // half-width
  double divider = 0;       // of the probe, half-width, share of the value
  double compensation = 0;  // of the probe, half-width, share of an alternating value
  double input_ohm = 1e6;   // at the probe tip
  double probe_f = 0;       // capacitance at the probe tip
  double source_ohm = 0;    // of the pad
  double source_half_ohm = 0;
  std::vector<std::string> assumed;  // what was taken because nobody stated it

  // The unloaded value from one at the probe tip.
  double unloaded(double at_tip) const { return at_tip * (1 + source_ohm / input_ohm); }
};

Chain chain_of(const RunContext& context, const SignalPlace& signal);
Chain chain_of(const bench::BenchFile& bench, const bench::ModelSheet* model, const SignalPlace& signal,
               const SignalSetUp& set_up);

// Appends gain, divider and loading; compensation for alternating values only; offset for d.c. only.
enum class Share { alternating, direct };
std::vector<metrology::Contribution> least_budget(const bench::BenchFile& bench, const SignalPlace& signal,
                                                  double value, Share share);
void add_chain(std::vector<metrology::Contribution>& budget, const Chain& chain, double value, Share share);

// Standard uncertainty that conversion in steps leaves in one averaged level: q/sqrt(12) for a still signal; noise and
// movement of sd_v spread it over the steps, of which the first harmonic, (q/pi) exp(-2 pi^2 sd^2/q^2), remains.
double conversion_v(double step_v, double sd_v);

}  // namespace eyelevel::sequence
