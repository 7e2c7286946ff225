// SPDX-License-Identifier: Apache-2.0
// Outside truth: data_sector_vector.json, and for other sectors the EDC by division of polynomials bit by bit, as
// ECMA-130 2nd ed. clause 14.3 writes them. P and Q parity do not matter here and are left zero.
#include "core/disc/sector/sector.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cstddef>
#include <string_view>
#include <vector>

#include "tests/core/disc/vectors.hpp"

using namespace eyelevel::disc;
using namespace eyelevel::disc::sector;
using namespace eyelevel::tests;

namespace {

Sector plain_sector(int minute, int second, int frame, int mode) {
  const auto bcd = [](int value) { return static_cast<std::uint8_t>(value / 10 << 4 | value % 10); };
  Sector s{};
  std::fill_n(s.begin() + 1, 10, std::uint8_t{0xFF});
  s[12] = bcd(minute);
  s[13] = bcd(second);
  s[14] = bcd(frame);
  s[15] = static_cast<std::uint8_t>(mode);
  for (std::size_t i = 0; i < 2048; ++i) s[16 + i] = static_cast<std::uint8_t>(i);
  return s;
}

// Remainder of the message (first bit: least significant of the first byte) times x^32 over the product of the two
// polynomials of clause 14.3; the highest power leaves first.
std::uint32_t remainder_by_division(const Sector& s, std::size_t bytes) {
  const auto product = [](std::uint64_t a, std::uint64_t b) {
    std::uint64_t sum = 0;
    for (unsigned k = 0; k < 17; ++k)
      if ((b >> k & 1U) != 0) sum ^= a << k;
    return sum;
  };
  const std::uint64_t divisor = product(1U << 16 | 1U << 15 | 1U << 2 | 1, 1U << 16 | 1U << 2 | 1U << 1 | 1);
  std::uint64_t rest = 0;
  const auto take = [&](unsigned bit) {
    rest = rest << 1 | bit;
    if ((rest >> 32 & 1U) != 0) rest ^= divisor;
  };
  for (std::size_t i = 0; i < bytes; ++i)
    for (unsigned bit = 0; bit < 8; ++bit) take(s[i] >> bit & 1U);
  for (int k = 0; k < 32; ++k) take(0);
  std::uint32_t turned = 0;  // the highest power is the first bit stored
  for (unsigned k = 0; k < 32; ++k) turned |= static_cast<std::uint32_t>(rest >> k & 1U) << (31 - k);
  return turned;
}

Sector with_edc(Sector s) {
  const std::uint32_t value = remainder_by_division(s, edc_offset);
  for (std::size_t k = 0; k < 4; ++k) s[edc_offset + k] = static_cast<std::uint8_t>(value >> (8 * k));
  return s;
}

// Scrambled sectors behind `lead` bytes of something else, laid into frames with byte pairs swapped.
std::vector<circ::F1Frame> frames_of(const std::vector<Sector>& sectors, std::size_t lead) {
  std::vector<std::uint8_t> bytes(lead, 0x37);
  for (Sector s : sectors) {
    scramble(s);
    bytes.insert(bytes.end(), s.begin(), s.end());
  }
  bytes.resize((bytes.size() + 47) / 24 * 24, 0x38);
  std::vector<circ::F1Frame> frames(bytes.size() / 24);
  for (std::size_t i = 0; i < bytes.size(); ++i) frames[i / 24][i % 24 ^ 1U] = bytes[i];
  return frames;
}

Sectors read(const std::vector<circ::F1Frame>& frames) {
  SectorReader reader;
  for (const auto& frame : frames) reader.push(frame, 0);
  return reader.result();
}

}  // namespace

TEST_CASE("sector: the test sector has the published EDC and, scrambled, the published bytes", "[disc]") {
  const auto vector = json_vectors("data_sector_vector.json");
  const auto text = [&](const char* key) { return std::string_view(vector.at(key).as_string()); };
  Sector s = plain_sector(0, 2, 0, 1);
  CHECK(std::equal(s.begin() + 12, s.begin() + 16, from_hex<std::array<std::uint8_t, 4>>(text("header")).begin()));
  const std::uint32_t value = edc(std::span(s).first(edc_offset));
  const auto stored = from_hex<std::array<std::uint8_t, 4>>(text("edc"));
  for (std::size_t k = 0; k < 4; ++k) CHECK((value >> (8 * k) & 0xFF) == stored[k]);
  CHECK(remainder_by_division(s, edc_offset) == value);

  const Sector before = s;
  scramble(s);
  const auto scrambled = from_hex<std::array<std::uint8_t, 8>>(text("scrambled_from_byte_12"));
  CHECK(std::equal(scrambled.begin(), scrambled.end(), s.begin() + 12));
  CHECK(std::equal(s.begin(), s.begin() + 12, before.begin()));  // the sync stays
  scramble(s);
  CHECK(s == before);
  Sector zeros{};
  scramble(zeros);
  const auto key = from_hex<std::array<std::uint8_t, 16>>(text("key_from_byte_12"));
  CHECK(std::equal(key.begin(), key.end(), zeros.begin() + 12));
}

TEST_CASE("sector: sectors are found at any fourth byte of a frame, with address and right EDC", "[disc]") {
  std::vector<Sector> sectors;
  for (int n = 0; n < 3; ++n) sectors.push_back(with_edc(plain_sector(7, 59, 73 + n == 75 ? 0 : 73 + n, 1)));
  for (std::size_t lead = 0; lead < 48; lead += 4) {
    const Sectors found = read(frames_of(sectors, lead));
    INFO("behind " << lead << " bytes");
    CHECK(found.sectors == 3);
    CHECK(found.edc_ok == 3);
    CHECK(found.edc_bad == 0);
    REQUIRE(found.list.size() == 3);
    CHECK(found.list[0].address == MinSecFrame{7, 59, 73});
    CHECK(found.list[2].address == MinSecFrame{7, 59, 0});
    CHECK(found.list[1].mode == 1);
    CHECK(found.list[1].edc_ok == true);
  }
}

TEST_CASE("sector: each single wrong bit before the parity makes the EDC bad", "[disc]") {
  const Sector good = with_edc(plain_sector(0, 2, 0, 1));
  for (std::size_t byte = 16; byte < edc_offset + 4; byte += 7) {
    Sector bad = good;
    bad[byte] = static_cast<std::uint8_t>(bad[byte] ^ 1U << byte % 8);
    const Sectors found = read(frames_of({bad}, 8));
    INFO("byte " << byte);
    CHECK(found.sectors == 1);
    CHECK(found.edc_bad == 1);
  }
}

TEST_CASE("sector: a damaged sync between good ones is believed, a lone one is not; modes 0 and 2 have no EDC",
          "[disc]") {
  Sector no_sync = with_edc(plain_sector(0, 2, 1, 1));
  std::fill_n(no_sync.begin(), 12, std::uint8_t{0x55});
  const Sector good = with_edc(plain_sector(0, 2, 0, 1));
  const Sectors between = read(frames_of({good, no_sync, good}, 0));
  CHECK(between.sectors == 3);
  CHECK(between.edc_bad == 1);
  CHECK(between.list.at(1).address == MinSecFrame{0, 2, 1});
  CHECK(read(frames_of({no_sync, no_sync}, 0)).sectors == 0);

  const Sectors modes = read(frames_of({plain_sector(0, 2, 0, 0), plain_sector(0, 2, 1, 2)}, 12));
  CHECK(modes.sectors == 2);
  CHECK(modes.edc_ok + modes.edc_bad == 0);
  CHECK_FALSE(modes.list.at(0).edc_ok);
  CHECK(modes.list.at(1).mode == 2);
}

TEST_CASE("sector: a header that is not vouched for or no time gives no address; a gap voids what was begun",
          "[disc]") {
  const auto frames = frames_of({with_edc(plain_sector(0, 2, 0, 1))}, 0);
  SectorReader reader;
  for (std::size_t n = 0; n < frames.size(); ++n) reader.push(frames[n], n == 0 ? 1U << 13 : 0);  // byte 12, swapped
  REQUIRE(reader.result().sectors == 1);
  CHECK_FALSE(reader.result().list[0].address);
  CHECK_FALSE(reader.result().list[0].mode);
  CHECK(reader.result().list[0].edc_ok == true);

  Sector no_time = plain_sector(0, 2, 0, 1);
  no_time[14] = 0x75;
  CHECK_FALSE(read(frames_of({with_edc(no_time)}, 0)).list.at(0).address);

  SectorReader interrupted;
  for (std::size_t n = 0; n < frames.size(); ++n) {
    if (n == 50) interrupted.gap();
    interrupted.push(frames[n], 0);
  }
  CHECK(interrupted.result().sectors == 0);
}
