// SPDX-License-Identifier: Apache-2.0
#include "core/disc/detail/sections.hpp"

#include <algorithm>
#include <array>
#include <optional>

#include "core/disc/efm/code.hpp"
#include "core/disc/subcode/q.hpp"

namespace eyelevel::disc::detail {
namespace {

using efm::section_frames;

// Numbers of frames that begin a section.
std::vector<std::int64_t> section_starts(const std::vector<Frame>& frames) {
  std::vector<std::int64_t> seen;
  for (std::size_t i = 0; i + 1 < frames.size(); ++i) {
    const bool next = frames[i + 1].number == frames[i].number + 1;
    if (next && frames[i].control == efm::symbol_s0 && frames[i + 1].control == efm::symbol_s1)
      seen.push_back(frames[i].number);
  }
  std::vector<std::int64_t> starts;
  if (seen.empty()) return starts;
  // Sections follow each other without a break: one whose S0 or S1 is damaged lies where its neighbours say.
  for (std::int64_t n = seen.front() - section_frames; n >= frames.front().number; n -= section_frames)
    starts.push_back(n);
  for (std::size_t i = 0; i < seen.size(); ++i) {
    const std::int64_t end = i + 1 < seen.size() ? seen[i + 1] - section_frames / 2 : frames.back().number + 1;
    for (std::int64_t n = seen[i]; n < end; n += section_frames) starts.push_back(n);
  }
  std::sort(starts.begin(), starts.end());
  return starts;
}

std::optional<QBlock> read_section(const std::vector<Frame>& frames, std::int64_t start, double rate_hz) {
  if (start < frames.front().number || start + section_frames - 1 > frames.back().number) return std::nullopt;
  auto at = std::lower_bound(frames.begin(), frames.end(), start,
                             [](const Frame& frame, std::int64_t number) { return frame.number < number; });
  std::array<std::uint8_t, section_frames - 2> control{};
  int readable = 0;
  const double first = at->start;
  for (; at != frames.end() && at->number < start + section_frames; ++at) {
    const std::int64_t place = at->number - start;
    if (place < 2) {
      ++readable;
    } else if (at->control >= 0 && at->control < 256) {
      ++readable;
      control[static_cast<std::size_t>(place - 2)] = static_cast<std::uint8_t>(at->control);
    }
  }
  if (readable < section_frames / 2) return std::nullopt;  // hardly anything was seen of it
  QBlock block = subcode::parse_q(subcode::q_of_control_bytes(control));
  if (!block.crc) block = QBlock{};
  block.start_s = first / rate_hz;
  return block;
}

}  // namespace

std::vector<QBlock> find_sections(const Frames& frames, double rate_hz) {
  std::vector<QBlock> blocks;
  if (frames.list.empty()) return blocks;
  for (const std::int64_t start : section_starts(frames.list)) {
    if (auto block = read_section(frames.list, start, rate_hz)) blocks.push_back(*block);
  }
  return blocks;
}

Content content_of(const std::vector<QBlock>& blocks) {
  constexpr int data_bit = 0x4;
  int audio = 0, data = 0;
  for (const QBlock& block : blocks) {
    if (!subcode::is_usable(block)) continue;
    ((block.control & data_bit) != 0 ? data : audio) += 1;
  }
  if (audio == data) return Content::unknown;
  return audio > data ? Content::audio : Content::data;
}

}  // namespace eyelevel::disc::detail
