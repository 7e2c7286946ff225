// SPDX-License-Identifier: Apache-2.0
// Any bytes as F1-frames with any marks and gaps: the reader of sectors must stay in its bounds, count each sector
// once, and give no address that is no time; the sound of the same frames keeps six sample pairs a frame.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <span>
#include <vector>

#include "core/disc/audio/sound.hpp"
#include "core/disc/sector/sector.hpp"

using namespace eyelevel::disc;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<std::uint8_t> input(data, data + size);
  sector::SectorReader reader;
  std::size_t samples = 0;
  audio::SoundBuilder sound([&](std::span<const std::int16_t> some) { samples += some.size(); });
  std::size_t frames = 0;
  // The first byte says where marks and gaps fall, the rest are frames.
  const unsigned every = input.empty() ? 0 : input[0];
  for (std::size_t at = 1; at + circ::f1_bytes <= input.size(); at += circ::f1_bytes, ++frames) {
    circ::F1Frame frame{};
    std::copy_n(input.begin() + static_cast<std::ptrdiff_t>(at), circ::f1_bytes, frame.begin());
    const bool marked = every % 3 == 1 && frames % (every % 29 + 1) == 0;
    if (every % 5 == 4 && frames % 150 == 149) {
      reader.gap();
      sound.skip(every % 7);
      frames += every % 7;
    }
    const std::uint32_t bad = marked ? frame[0] * 0x10101U : 0U;
    reader.push(frame, bad);
    sound.push(frame, bad);
  }
  const Sectors& found = reader.result();
  if (found.sectors != static_cast<std::int64_t>(found.list.size())) std::abort();
  if (found.edc_ok + found.edc_bad > found.sectors) std::abort();
  if (found.list.size() * sector::sector_bytes > input.size()) std::abort();
  for (const SectorRead& s : found.list) {
    if (s.address && (s.address->minute > 99 || s.address->second > 59 || s.address->frame > 74)) std::abort();
  }
  sound.end();
  const Sound heard = sound.counts();
  if (samples != frames * audio::samples_a_frame) std::abort();
  if (heard.interpolated + heard.held > static_cast<std::int64_t>(samples)) std::abort();
  return 0;
}
