// SPDX-License-Identifier: Apache-2.0
// Frames to Q blocks: 98 frames from S0 and S1 on (ECMA-130 2nd ed. clauses 18 and 22). A block that an end of the
// record cuts is left out; one inside whose frames are partly unreadable, or whose CRC fails, is given with crc false.
// Not for the meaning of the bits: core/disc/subcode.
#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

#include "core/disc/analysis.hpp"
#include "core/disc/detail/frames.hpp"

namespace eyelevel::disc::detail {

// Takes frames one by one, with ascending numbers, and gives each block when its last frame has come. Sections follow
// each other without a break: one whose S0 or S1 is damaged lies where its neighbours say.
class SectionReader {
 public:
  explicit SectionReader(double rate_hz) : rate_hz_(rate_hz) {}

  void take(const Frame& frame);
  // The first ones, listed_most at most.
  const std::vector<QBlock>& blocks() const { return blocks_; }
  // Of all of them, listed or not.
  std::int64_t count() const { return count_; }
  std::int64_t readable() const { return readable_; }  // the CRC holds
  bool pre_emphasis() const { return pre_emphasis_; }  // said by one of an audio track
  // What blocks of the lead-in say; empty where there were none.
  std::optional<TableOfContents> contents() const;
  // Audio or data by the CONTROL bits of the good blocks so far, lead-in included (there it is that of the track
  // pointed to); what most say; unknown where there are none or as many say the one as the other.
  Content content() const;

 private:
  struct Symbol {  // the control symbol of a frame
    std::int64_t number;
    int control;
    double start;
  };

  void begins_at(std::int64_t number);
  void read(std::int64_t first);
  void take_in(const QBlock& block);

  double rate_hz_;
  std::deque<Symbol> symbols_;
  std::optional<std::int64_t> next_;  // where the section begins that is to be read next, if nothing says otherwise
  std::deque<std::int64_t> due_;      // beginnings that are certain, their sections not yet complete
  std::vector<QBlock> blocks_;
  std::int64_t count_ = 0, readable_ = 0, audio_ = 0, data_ = 0;
  bool pre_emphasis_ = false, lead_in_ = false;
  TableOfContents contents_;
};

}  // namespace eyelevel::disc::detail
