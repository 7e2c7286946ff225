// SPDX-License-Identifier: Apache-2.0
// The channel bits of a disc's contents, at any place: subcode with a real Q channel (table of contents, pauses,
// tracks, lead-out), music or data from a hash of seed and frame number, CIRC and EFM with merging bits. Channel bit 0
// is the first bit of absolute time 00:00:00; the lead-in is negative. The same bits come whatever was asked for
// before. Cost: sequential about 1 us a frame, a jump about 10 us more. One stream belongs to one thread (it keeps a
// cache).
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <vector>

#include "core/disc/circ/layout.hpp"
#include "core/disc/efm/merging.hpp"
#include "core/disc/subcode/q.hpp"
#include "sim/disc/disc.hpp"

namespace eyelevel::sim {

inline constexpr double channel_rate_1x_hz = 4.3218e6;
inline constexpr std::int64_t section_bits = std::int64_t{disc::efm::frame_bits} * disc::efm::section_frames;

// Edges of a span of channel bits. An edge at bit b lies at the beginning of that bit.
struct EdgeWindow {
  std::int64_t first_bit = 0;
  std::int64_t until_bit = 0;
  bool land_before = true;          // level before the first edge; land is more light
  std::vector<std::int32_t> edges;  // ascending, from first_bit
};

class ChannelStream {
 public:
  explicit ChannelStream(std::shared_ptr<const Contents> contents);

  // All edges in [first_bit, until_bit). Beyond the end of the lead-in and the lead-out's hundred minutes the content
  // goes on as at the end.
  void edges(std::int64_t first_bit, std::int64_t until_bit, EdgeWindow& window);

  // What the bits are made of, for truth and tests.
  disc::subcode::QBytes q(std::int64_t section) const;
  bool p(std::int64_t section) const;
  disc::circ::F1Frame f1_frame(std::int64_t frame) const;
  disc::efm::FrameSymbols symbols(std::int64_t frame) const;
  const Contents& contents() const { return *contents_; }

 private:
  // Frames are encoded in groups whose digital sum starts at zero and whose number of edges is odd, so that a group
  // needs to know nothing of the one before, the level is the same however one came there, and what is left of the sum
  // at the end of alike groups (silence) cancels.
  static constexpr int group_frames = 7;  // divides a section
  static constexpr std::size_t cached_groups = 64;
  struct Group {
    std::int64_t number = INT64_MIN;
    int count = 0;
    std::array<std::uint16_t, group_frames * disc::efm::frame_edges_max> edges{};
  };
  const Group& group(std::int64_t number);

  std::shared_ptr<const Contents> contents_;
  std::vector<Group> cache_;
  std::int64_t section_ = INT64_MIN;  // of the Q block below
  disc::subcode::QBytes section_q_{};
  bool section_p_ = false;
};

}  // namespace eyelevel::sim
