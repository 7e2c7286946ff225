// SPDX-License-Identifier: Apache-2.0
// How much of the jitter the oscilloscope itself makes. Two parts for each edge: voltage noise moves the crossing by
// noise over slope, and a straight line between two samples misses the curved edge. All noise on settled runs counts as
// the instrument's, so that the figure is an upper bound; it is told beside the jitter and never taken off. The slope
// is the mean one of all edges. In samples.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

#include "core/disc/eye/runs.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::disc::eye {

// Takes some edges of a record part by part.
class InstrumentJitter {
 public:
  void take(const signal::CodesView& codes, const Runs& runs);
  // Standard deviation of one edge, if one sample has this noise (codes). Empty without edges.
  std::optional<double> of_edge(double noise) const;

 private:
  template <class T>
  void take_runs(std::span<const T> x, const Runs& runs);

  std::size_t next_ = 0;  // the run that is looked at next, counted from the beginning of the next runs
  // Codes; weight is how much of one sample's noise squared there is at a crossing.
  double count_ = 0, slope_ = 0, weight_ = 0, bend_ = 0;
};

}  // namespace eyelevel::disc::eye
