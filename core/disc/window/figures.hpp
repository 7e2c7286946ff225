// SPDX-License-Identifier: Apache-2.0
// The sums of a record as the figures of an analysis: codes become volts, samples seconds, and what cannot be said is
// left empty with a warning that says why.
#pragma once

#include "core/disc/analysis.hpp"
#include "core/disc/window/frame_chain.hpp"
#include "core/disc/window/tally.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::disc::window {

// `scale` is the waveform without its samples.
Analysis figures(const signal::WaveformView& scale, const AnalysisOptions& options, const Tally& tally,
                 const FrameChain& frames);

}  // namespace eyelevel::disc::window
