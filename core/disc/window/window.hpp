// SPDX-License-Identifier: Apache-2.0
// One window of a record, from samples to frames and sums. A window is long enough for a clock to be found in it and
// short enough for the processor's caches; it overlaps its neighbours, so that the clock has settled where its own
// part, the core, begins. What lies in the core is added to the tally.
#pragma once

#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

#include "core/disc/analysis.hpp"
#include "core/disc/clock/recovery.hpp"
#include "core/disc/clock/slicer.hpp"
#include "core/disc/clock/survey.hpp"
#include "core/disc/detail/frames.hpp"
#include "core/disc/window/tally.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::disc::window {

struct Place {
  std::size_t start = 0;  // of the window's first sample in the record
  Span core;
};

// Frames of a window, their numbers counted within it, their places in samples from the window's beginning.
struct WindowFrames {
  std::vector<detail::Frame> list;
  double frame_samples = 0;  // length of a frame
};

// Edges and channel bits of a window, as it came or smoothed.
struct Lock {
  std::optional<std::vector<float>> smooth;
  clock::Survey survey;
  double hysteresis = 0;
  clock::LevelTrack level;  // where edges were looked for first
  clock::Edges edges;
  clock::Lattice lattice;
};

// What the last window that had an eye says about the next one.
struct Usual {
  double height = 0;             // of the eye; 0 without
  std::optional<double> raised;  // how far the digital sum balances above the middle of the envelope
};

class Looker {
 public:
  using OnRuns = decltype(AnalysisOptions::on_runs);

  Looker(double rate_hz, const eye::Rails& rails, OnRuns on_runs = {})
      : rate_hz_(rate_hz), rails_(rails), on_runs_(std::move(on_runs)) {}

  WindowFrames look(const signal::CodesView& codes, const Place& place, Tally& tally);

 private:
  double rate_hz_;
  eye::Rails rails_;
  OnRuns on_runs_;
  Lock lock_;  // of the last window: its memory is used again
  Usual usual_;
};

}  // namespace eyelevel::disc::window
