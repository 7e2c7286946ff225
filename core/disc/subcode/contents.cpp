// SPDX-License-Identifier: Apache-2.0
#include "core/disc/subcode/contents.hpp"

#include <fmt/format.h>

#include <array>
#include <cstdint>

#include "core/disc/subcode/q.hpp"
#include "core/quantity/counted.hpp"

namespace eyelevel::disc::subcode {
namespace {

constexpr int point_first = 0xA0, point_last = 0xA1, point_lead_out = 0xA2;

}  // namespace

TableOfContents contents_of(std::span<const QBlock> blocks) {
  TableOfContents contents;
  for (const QBlock& block : blocks) gather(block, contents);
  conclude(contents);
  return contents;
}

void gather(const QBlock& block, TableOfContents& contents) {
  if (!is_usable(block) || block.adr != 1 || !block.point) return;
  if (block.index) {
    contents.tracks.try_emplace(*block.index, ContentsTrack{*block.absolute, (block.control & 0x4) != 0});
  } else if (*block.point == point_first && !contents.first_track) {
    contents.first_track = block.absolute->minute;
  } else if (*block.point == point_last && !contents.last_track) {
    contents.last_track = block.absolute->minute;
  } else if (*block.point == point_lead_out && !contents.lead_out) {
    contents.lead_out = *block.absolute;
  }
}

void conclude(TableOfContents& contents) {
  contents.complete =
      contents.first_track && contents.last_track && contents.lead_out && *contents.first_track <= *contents.last_track;
  for (int n = contents.first_track.value_or(0); contents.complete && n <= *contents.last_track; ++n) {
    contents.complete = contents.tracks.contains(n);
  }
  contents.mark = mark_of(contents);
}

std::string mark_of(const TableOfContents& contents) {
  if (!contents.complete) return {};
  // The CRC of the Q channel over all starts, carried on from item to item.
  std::uint16_t check = 0;
  const auto add = [&](int number, const MinSecFrame& time, bool is_data) {
    const std::array<std::uint8_t, 10> item = {
        static_cast<std::uint8_t>(check >> 8),     static_cast<std::uint8_t>(check),
        static_cast<std::uint8_t>(number),         static_cast<std::uint8_t>(time.minute),
        static_cast<std::uint8_t>(time.second),    static_cast<std::uint8_t>(time.frame),
        static_cast<std::uint8_t>(is_data ? 1 : 0)};
    check = q_crc(item);
  };
  int count = 0;
  for (int n = *contents.first_track; n <= *contents.last_track; ++n, ++count) {
    const ContentsTrack& track = contents.tracks.at(n);
    add(n, track.start, track.is_data);
  }
  add(lead_out_track, *contents.lead_out, false);
  return fmt::format("{} to {}, {:04X}", quantity::counted(count, "track"), print(*contents.lead_out), check);
}

}  // namespace eyelevel::disc::subcode
