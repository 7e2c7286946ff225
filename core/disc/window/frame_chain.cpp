// SPDX-License-Identifier: Apache-2.0
#include "core/disc/window/frame_chain.hpp"

#include <algorithm>
#include <cmath>

namespace eyelevel::disc::window {

FrameChain::FrameChain(double rate_hz, const AnalysisOptions& options)
    : rate_hz_(rate_hz),
      subcode_wanted_(options.subcode_wanted),
      errors_wanted_(options.errors_wanted),
      sections_(rate_hz),
      decoder_(options.strategy, options.subcode_wanted ? options.on_sound : SoundSink()) {
  errors_.stretch_s = 0.1;
}

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
    if (!errors_wanted_) continue;
    decoder_.take(frame, sections_.content());
    count_errors(start / rate_hz_);
  }
}

// What the last frame has added.
void FrameChain::count_errors(double start_s) {
  constexpr std::size_t stretches_most = 512;
  const C1Counts& c1 = decoder_.c1();
  auto& all = errors_.stretches;
  auto place = static_cast<std::size_t>(std::max(0.0, start_s / errors_.stretch_s));
  while (place >= stretches_most) {
    for (std::size_t i = 0; 2 * i < all.size(); ++i) {
      const ErrorsOverTime::Stretch second = 2 * i + 1 < all.size() ? all[2 * i + 1] : ErrorsOverTime::Stretch{};
      all[i] = {all[2 * i].words + second.words, all[2 * i].wrong + second.wrong};
    }
    all.resize((all.size() + 1) / 2);
    errors_.stretch_s *= 2;
    place /= 2;
  }
  if (place >= all.size()) all.resize(place + 1);
  const std::int64_t wrong = wrong_words(c1);
  all[place].words += c1.words - words_;
  all[place].wrong += wrong - wrong_;
  words_ = c1.words;
  wrong_ = wrong;
}

}  // namespace eyelevel::disc::window
