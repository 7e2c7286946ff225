// SPDX-License-Identifier: Apache-2.0
#include "core/disc/detail/sections.hpp"

#include <algorithm>
#include <array>

#include "core/disc/efm/code.hpp"
#include "core/disc/subcode/contents.hpp"
#include "core/disc/subcode/q.hpp"

namespace eyelevel::disc::detail {
namespace {

using efm::section_frames;

// Frames that are kept while no S0 and S1 have come: a fifth of a second at 1x.
constexpr std::size_t kept_most = std::size_t{16} * section_frames;

}  // namespace

void SectionReader::take(const Frame& frame) {
  if (!symbols_.empty()) {
    const Symbol& before = symbols_.back();
    const bool next = before.number + 1 == frame.number;
    if (next && before.control == efm::symbol_s0 && frame.control == efm::symbol_s1) begins_at(before.number);
  }
  symbols_.push_back({frame.number, frame.control, frame.start});
  if (!next_) {
    if (symbols_.size() > kept_most) symbols_.pop_front();
    return;
  }
  for (; *next_ + section_frames <= frame.number + 1; *next_ += section_frames) due_.push_back(*next_);
  for (; !due_.empty() && due_.front() + section_frames <= frame.number + 1; due_.pop_front()) read(due_.front());
  const std::int64_t wanted = due_.empty() ? *next_ : std::min(*next_, due_.front());
  while (symbols_.size() > 1 && symbols_.front().number < wanted) symbols_.pop_front();
}

void SectionReader::begins_at(std::int64_t number) {
  if (!next_) {
    std::int64_t first = number;
    while (first - section_frames >= symbols_.front().number) first -= section_frames;
    next_ = first;
  }
  // One that would end more than half of itself behind this beginning is none.
  for (; *next_ < number - section_frames / 2; *next_ += section_frames) due_.push_back(*next_);
  next_ = number;
}

void SectionReader::read(std::int64_t first) {
  auto at = std::lower_bound(symbols_.begin(), symbols_.end(), first,
                             [](const Symbol& symbol, std::int64_t number) { return symbol.number < number; });
  if (at == symbols_.end()) return;
  std::array<std::uint8_t, section_frames - 2> control{};
  int readable = 0;
  const double start = at->start;
  for (; at != symbols_.end() && at->number < first + section_frames; ++at) {
    const std::int64_t place = at->number - first;
    if (place < 2) {
      ++readable;
    } else if (at->control >= 0 && at->control < 256) {
      ++readable;
      control[static_cast<std::size_t>(place - 2)] = static_cast<std::uint8_t>(at->control);
    }
  }
  if (readable < section_frames / 2) return;  // hardly anything was seen of it
  QBlock block = subcode::parse_q(subcode::q_of_control_bytes(control));
  if (!block.crc) block = QBlock{};
  block.start_s = start / rate_hz_;
  take_in(block);
}

void SectionReader::take_in(const QBlock& block) {
  ++count_;
  if (blocks_.size() < listed_most) blocks_.push_back(block);
  if (!block.crc) return;
  ++readable_;
  constexpr int data_bit = 0x4, pre_emphasis_bit = 0x1;
  const bool is_data = (block.control & data_bit) != 0;
  if (subcode::is_usable(block)) (is_data ? data_ : audio_) += 1;
  if (!is_data && (block.control & pre_emphasis_bit) != 0) pre_emphasis_ = true;
  if (block.point) lead_in_ = true;
  subcode::gather(block, contents_);
}

std::optional<TableOfContents> SectionReader::contents() const {
  if (!lead_in_) return std::nullopt;
  TableOfContents contents = contents_;
  subcode::conclude(contents);
  return contents;
}

Content SectionReader::content() const {
  if (audio_ == data_) return Content::unknown;
  return audio_ > data_ ? Content::audio : Content::data;
}

}  // namespace eyelevel::disc::detail
