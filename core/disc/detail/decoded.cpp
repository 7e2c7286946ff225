// SPDX-License-Identifier: Apache-2.0
#include "core/disc/detail/decoded.hpp"

namespace eyelevel::disc::detail {

void FrameDecoder::take(const Frame& frame, Content content) {
  if (due_ && frame.number != *due_) decoder_.gap();
  due_ = frame.number + 1;
  const auto out = decoder_.push(frame.symbols, frame.invalid);
  if (!out) return;
  if (content != Content::audio) {
    if (sector_due_ && *sector_due_ != frame.number) sectors_.gap();
    sectors_.push(out->bytes, out->bad);
    sector_due_ = due_;
  }
  if (sound_wanted_ && content != Content::data) {
    if (sound_due_) sound_.skip(frame.number - *sound_due_);
    sound_.push(out->bytes, out->bad);
    sound_due_ = due_;
  }
}

void FrameDecoder::end() {
  if (sound_wanted_) sound_.end();
}

Decoded FrameDecoder::result(Content content) const {
  Decoded decoded{.c1 = decoder_.c1(), .c2 = decoder_.c2(), .sectors = {}, .sound = {}};
  if (content != Content::audio) decoded.sectors = sectors_.result();
  if (content == Content::audio && sound_wanted_) decoded.sound = sound_.counts();
  return decoded;
}

}  // namespace eyelevel::disc::detail
