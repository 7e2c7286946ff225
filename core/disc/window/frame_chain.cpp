// SPDX-License-Identifier: Apache-2.0
#include "core/disc/window/frame_chain.hpp"

#include <algorithm>
#include <cmath>

namespace eyelevel::disc::window {

FrameChain::FrameChain(double rate_hz, const AnalysisOptions& options)
    : subcode_wanted_(options.subcode_wanted),
      errors_wanted_(options.errors_wanted),
      sections_(rate_hz),
      decoder_(options.strategy, options.sound_wanted && options.subcode_wanted) {}

void FrameChain::take(const WindowFrames& frames, const Place& place) {
  const double half = 0.5 * frames.frame_samples;
  std::int64_t shift = 0;  // from numbers of the window to those of the record
  bool first = true;
  for (const detail::Frame& in_window : frames.list) {
    const double start = static_cast<double>(place.start) + in_window.start;
    // Windows may disagree by parts of a sample: what the window before has given is known by its place.
    if (start >= static_cast<double>(place.core.to) || (last_ && start < last_->start + half)) continue;
    detail::Frame frame = in_window;
    frame.start = start;
    if (first && last_) {
      const double since = (start - last_->start) / frames.frame_samples;
      shift = last_->number + std::max<std::int64_t>(1, std::llround(since)) - frame.number;
      if (frame.number + shift > last_->number + 1) frame.slipped = true;  // of which this window need not know
    }
    first = false;
    frame.number += shift;
    last_ = {frame.number, start};
    ++count_;
    sync_lost_ += frame.slipped ? 1 : 0;
    syncs_missed_ += frame.bridged ? 1 : 0;
    if (subcode_wanted_) sections_.take(frame);
    if (errors_wanted_) decoder_.take(frame, sections_.content());
  }
}

}  // namespace eyelevel::disc::window
