// SPDX-License-Identifier: Apache-2.0
#include "core/disc/detail/decoded.hpp"

#include "core/disc/audio/sound.hpp"
#include "core/disc/circ/decoder.hpp"
#include "core/disc/sector/sector.hpp"

namespace eyelevel::disc::detail {

Decoded decode_frames(const std::vector<Frame>& frames, const CircStrategy& strategy, Content content,
                      bool sound_wanted) {
  const bool with_sectors = content != Content::audio, with_sound = content == Content::audio && sound_wanted;
  circ::Decoder decoder(strategy);
  sector::SectorReader sectors;
  audio::SoundBuilder sound;
  std::int64_t due = 0;
  std::optional<std::int64_t> due_out;  // number of the F1-frame that comes out next if nothing is missing
  for (const Frame& frame : frames) {
    if (frame.number != due) decoder.gap();
    due = frame.number + 1;
    const auto out = decoder.push(frame.symbols, frame.invalid);
    if (!out) continue;
    const bool missing = due_out && *due_out != frame.number;
    if (with_sectors) {
      if (missing) sectors.gap();
      sectors.push(out->bytes, out->bad);
    } else if (with_sound) {
      if (missing) sound.skip(frame.number - *due_out);
      sound.push(out->bytes, out->bad);
    }
    due_out = due;
  }
  Decoded decoded{.c1 = decoder.c1(), .c2 = decoder.c2(), .sectors = {}, .sound = {}};
  if (with_sectors) decoded.sectors = sectors.result();
  if (with_sound) decoded.sound = sound.result();
  return decoded;
}

}  // namespace eyelevel::disc::detail
