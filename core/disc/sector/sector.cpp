// SPDX-License-Identifier: Apache-2.0
#include "core/disc/sector/sector.hpp"

#include <algorithm>

#include "core/disc/subcode/q.hpp"

namespace eyelevel::disc::sector {
namespace {

constexpr std::size_t header = sync_bytes;  // minute, second, frame, mode

// x^15 + x + 1, preset to 1, least significant bit first (annex B).
constexpr std::array<std::uint8_t, sector_bytes> make_key() {
  std::array<std::uint8_t, sector_bytes> key{};
  unsigned shift = 1;
  for (std::size_t i = sync_bytes; i < sector_bytes; ++i) {
    for (unsigned bit = 0; bit < 8; ++bit) {
      key[i] = static_cast<std::uint8_t>(key[i] | (shift & 1U) << bit);
      shift = shift >> 1 | ((shift ^ shift >> 1) & 1U) << 14;
    }
  }
  return key;
}
constexpr auto key = make_key();

// (x^16 + x^15 + x^2 + 1)(x^16 + x^2 + x + 1), turned round because the least significant bit comes first.
constexpr std::array<std::uint32_t, 256> make_edc_table() {
  std::array<std::uint32_t, 256> table{};
  for (std::uint32_t n = 0; n < 256; ++n) {
    std::uint32_t rest = n;
    for (int bit = 0; bit < 8; ++bit) rest = rest >> 1 ^ ((rest & 1U) != 0 ? 0xD8018001U : 0U);
    table[n] = rest;
  }
  return table;
}
constexpr auto edc_table = make_edc_table();

int right_sync_bytes(const std::uint8_t* bytes) {
  int right = 0;
  for (std::size_t i = 0; i < sync_bytes; ++i) right += bytes[i] == (i == 0 || i == sync_bytes - 1 ? 0x00 : 0xFF);
  return right;
}

bool has_sync(const std::uint8_t* bytes) { return right_sync_bytes(bytes) == sync_bytes; }

}  // namespace

void scramble(std::span<std::uint8_t, sector_bytes> sector) {
  for (std::size_t i = sync_bytes; i < sector_bytes; ++i) sector[i] ^= key[i];
}

std::uint32_t edc(std::span<const std::uint8_t> bytes) {
  std::uint32_t rest = 0;
  for (const std::uint8_t byte : bytes) rest = rest >> 8 ^ edc_table[(rest ^ byte) & 0xFF];
  return rest;
}

void SectorReader::push(const circ::F1Frame& frame, std::uint32_t bad) {
  for (std::size_t i = 0; i < circ::f1_bytes; ++i) {
    const std::size_t swapped = i ^ 1U;  // clause 16: byte pairs change places
    bytes_.push_back(frame[swapped]);
    bad_.push_back(static_cast<std::uint8_t>(bad >> swapped & 1U));
  }
  while (step()) {
  }
  if (at_ >= sector_bytes) {
    const auto done = static_cast<std::ptrdiff_t>(at_);
    bytes_.erase(bytes_.begin(), bytes_.begin() + done);
    bad_.erase(bad_.begin(), bad_.begin() + done);
    at_ = 0;
  }
}

void SectorReader::gap() {
  bytes_.clear();
  bad_.clear();
  at_ = 0;
  in_step_ = false;
}

bool SectorReader::step() {
  if (bytes_.size() - at_ < sector_bytes + sync_bytes && !(bytes_.size() - at_ >= sector_bytes && is_sector_here()))
    return false;
  if (is_sector_here()) {
    read();
    at_ += sector_bytes;
    in_step_ = true;
  } else {
    in_step_ = false;
    at_ += 4;  // clause 16: a sector may begin at any fourth byte of a frame
  }
  return true;
}

// Where the last sector ended, a damaged sync is believed: most of it is right, or the next one is in its place.
bool SectorReader::is_sector_here() const {
  constexpr int right_least = 8;
  const std::uint8_t* here = bytes_.data() + at_;
  if (has_sync(here)) return true;
  if (!in_step_) return false;
  return right_sync_bytes(here) >= right_least ||
         (bytes_.size() - at_ >= sector_bytes + sync_bytes && has_sync(here + sector_bytes));
}

void SectorReader::read() {
  Sector sector;
  std::copy_n(bytes_.begin() + static_cast<std::ptrdiff_t>(at_), sector_bytes, sector.begin());
  scramble(sector);
  const auto* bad = bad_.data() + at_ + header;
  const bool header_bad = std::any_of(bad, bad + 4, [](std::uint8_t b) { return b != 0; });
  SectorRead found;
  if (!header_bad) found.address = subcode::time_from_bcd(std::span(sector).subspan<header, 3>());
  if (!header_bad) found.mode = sector[header + 3];
  if (found.mode != 0 && found.mode != 2) {
    std::uint32_t stored = 0;
    for (std::size_t k = 0; k < 4; ++k) stored |= std::uint32_t{sector[edc_offset + k]} << (8 * k);
    found.edc_ok = edc(std::span(sector).first(edc_offset)) == stored;
    (*found.edc_ok ? result_.edc_ok : result_.edc_bad) += 1;
  }
  ++result_.sectors;
  if (result_.list.size() < listed_most) result_.list.push_back(found);
}

}  // namespace eyelevel::disc::sector
