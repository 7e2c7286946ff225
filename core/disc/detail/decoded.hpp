// SPDX-License-Identifier: Apache-2.0
// Frames to what the disc says and how well: CIRC counts, and after them the sectors of a data track or the sound of an
// audio track. Not for eye and subcode. Where frames are missing the code starts anew, and 111 frames after the gap
// give nothing.
#pragma once

#include <cstdint>
#include <optional>
#include <utility>

#include "core/disc/analysis.hpp"
#include "core/disc/audio/sound.hpp"
#include "core/disc/circ/decoder.hpp"
#include "core/disc/detail/frames.hpp"
#include "core/disc/sector/sector.hpp"

namespace eyelevel::disc::detail {

struct Decoded {
  C1Counts c1;
  C2Counts c2;
  std::optional<Sectors> sectors;  // unless audio
  std::optional<Sound> sound;      // of audio, if wanted
};

// Takes frames one by one, with ascending numbers.
class FrameDecoder {
 public:
  // No sound is made without a sink.
  FrameDecoder(const CircStrategy& strategy, SoundSink on_sound)
      : decoder_(strategy), sound_wanted_(on_sound != nullptr), sound_(std::move(on_sound)) {}

  // `content` is what the subcode has said up to here: audio holds no sectors, data no sound.
  void take(const Frame& frame, Content content);
  // Nothing follows.
  void end();
  Decoded result(Content content) const;
  const C1Counts& c1() const { return decoder_.c1(); }

 private:
  circ::Decoder decoder_;
  bool sound_wanted_;
  sector::SectorReader sectors_;
  audio::SoundBuilder sound_;
  std::optional<std::int64_t> due_;         // number of the frame that comes next if nothing is missing
  std::optional<std::int64_t> sector_due_;  // of the F1-frame that the sectors wait for
  std::optional<std::int64_t> sound_due_;
};

}  // namespace eyelevel::disc::detail
