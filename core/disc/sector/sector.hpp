// SPDX-License-Identifier: Apache-2.0
// F1-frames of a data track to sectors: ECMA-130 2nd ed. clauses 14 to 16. A sector is 2352 bytes: sync, header (BCD
// minute, second, frame, mode), user data, EDC, and P and Q parity, which is not used here: the question is how well
// the disc was read, not what is on it. Only mode 1 has an EDC. One SectorReader belongs to one thread.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "core/disc/analysis.hpp"
#include "core/disc/circ/layout.hpp"

namespace eyelevel::disc::sector {

inline constexpr std::size_t sector_bytes = 2352;
inline constexpr std::size_t sync_bytes = 12;
inline constexpr std::size_t edc_offset = 2064;
using Sector = std::array<std::uint8_t, sector_bytes>;

// Scrambles or descrambles bytes 12 to 2351: clause 15, annex B.
void scramble(std::span<std::uint8_t, sector_bytes> sector);
// Cyclic redundancy code of clause 14.3, least significant bit first, register from 0; stored low byte first.
std::uint32_t edc(std::span<const std::uint8_t> bytes);

class SectorReader {
 public:
  // `bad`: mask of bytes that the code could not vouch for.
  void push(const circ::F1Frame& frame, std::uint32_t bad);
  // Frames are missing: a sector that was begun is void.
  void gap();
  const Sectors& result() const { return result_; }

 private:
  bool step();  // false: more bytes are needed
  bool is_sector_here() const;
  void read();

  std::vector<std::uint8_t> bytes_, bad_;  // in the sector's order of bytes
  std::size_t at_ = 0;                     // where the next sector may begin
  bool in_step_ = false;                   // the last one ended here
  Sectors result_;
};

}  // namespace eyelevel::disc::sector
