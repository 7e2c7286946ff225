// SPDX-License-Identifier: Apache-2.0
// Outside truth: q_crc_vectors.csv (one payload occurs on a pressed disc), and the step by step CRC of ECMA-130 22.3.6.
#include "core/disc/subcode/q.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <string>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "tests/core/disc/vectors.hpp"

using namespace eyelevel::disc;
using namespace eyelevel::disc::subcode;
using namespace eyelevel::tests;

namespace {

QBytes program(int control, int track, int index, MinSecFrame relative, MinSecFrame absolute) {
  return build_program_q(
      {.control = control, .track = track, .index = index, .relative = relative, .absolute = absolute});
}

}  // namespace

TEST_CASE("Q block: the CRC is that of every published payload", "[disc]") {
  const auto rows = csv_vectors("q_crc_vectors.csv");
  REQUIRE(rows.size() == 12);
  for (const auto& row : rows) {
    const auto payload = from_hex<std::array<std::uint8_t, 10>>(row.at(0));
    const int crc = std::stoi(row.at(1), nullptr, 16);
    INFO(row.at(2));
    CHECK(q_crc(payload) == crc);
    const QBytes stored = build_q(payload);
    CHECK((stored[10] << 8 | stored[11]) == crc);
    CHECK(parse_q(stored).crc);
  }
}

TEST_CASE("Q block: all 96 bits as stored leave 1D0F in the receiver's register", "[disc]") {
  // ECMA-130 22.3.6; the register is run here bit by bit, apart from the table.
  const auto q = from_hex<QBytes>("010101000000000002005a28");
  unsigned crc = 0;
  for (const auto byte : q)
    for (int bit = 7; bit >= 0; --bit) {
      const bool top = ((crc >> 15U) & 1U) != (static_cast<unsigned>(byte >> bit) & 1U);
      crc = (crc << 1U & 0xFFFFU) ^ (top ? 0x1021U : 0U);
    }
  CHECK(crc == 0x1D0F);
}

TEST_CASE("Q block: any one, two or three wrong bits are told by the CRC", "[disc]") {
  const auto good = from_hex<QBytes>("010101000000000002005a28");
  eyelevel::base::Random random(1, "bits");
  for (int n = 0; n < 20000; ++n) {
    QBytes bad = good;
    for (std::uint64_t flips = 1 + random.below(3); flips > 0; --flips) {
      const auto bit = random.below(96);
      bad[bit / 8] = static_cast<std::uint8_t>(bad[bit / 8] ^ 1U << bit % 8);
    }
    CHECK(parse_q(bad).crc == (bad == good));
  }
}

TEST_CASE("Q block: the fields of the published blocks are read as their descriptions say", "[disc]") {
  const auto read = [](std::size_t row) {
    return parse_q(build_q(from_hex<std::array<std::uint8_t, 10>>(csv_vectors("q_crc_vectors.csv").at(row).at(0))));
  };
  SECTION("table of contents: lead-out at 52:34:21") {
    const QBlock block = read(2);
    CHECK(is_usable(block));
    CHECK(block.track == 0);
    CHECK(block.point == 0xA2);
    CHECK_FALSE(block.index);
    CHECK(block.absolute == MinSecFrame{52, 34, 21});
    CHECK(block.relative == MinSecFrame{0, 12, 40});
  }
  SECTION("table of contents: track 1 starts at 00:02:00") {
    const QBlock block = read(3);
    CHECK(is_usable(block));
    CHECK(block.point == 1);
    CHECK(block.index == 1);
    CHECK(block.absolute == MinSecFrame{0, 2, 0});
  }
  SECTION("table of contents: first and last track") {
    CHECK(read(0).absolute == MinSecFrame{1, 0, 0});
    CHECK(read(1).absolute == MinSecFrame{12, 0, 0});
    CHECK(is_usable(read(0)));
  }
  SECTION("pause before track 1") {
    const QBlock block = read(4);
    CHECK(is_usable(block));
    CHECK(block.track == 1);
    CHECK(block.index == 0);
    CHECK(block.relative == MinSecFrame{0, 1, 74});
    CHECK(block.absolute == MinSecFrame{0, 0, 0});
    CHECK(phrase(block) == "in the pause before track 1, an audio track");
  }
  SECTION("data track on a pressed disc") {
    const QBlock block = read(6);
    CHECK(block.control == 4);
    CHECK(content_of(block) == Content::data);
    CHECK(block.relative == MinSecFrame{3, 6, 5});
    CHECK(block.absolute == MinSecFrame{3, 8, 5});
    CHECK(phrase(block) == "playing a data track, track 1, 03:06");
  }
  SECTION("pre-emphasis, index 2") {
    const QBlock block = read(7);
    CHECK(block.control == 3);
    CHECK(block.track == 7);
    CHECK(block.index == 2);
    CHECK(content_of(block) == Content::audio);
  }
  SECTION("lead-out") {
    const QBlock block = read(8);
    CHECK(block.track == lead_out_track);
    CHECK(block.index == 1);
    CHECK(phrase(block) == "in the lead-out");
  }
  SECTION("catalogue number and recording code hold only a frame number") {
    CHECK(read(9).adr == 2);
    CHECK(read(9).absolute_frame == 21);
    CHECK(read(10).adr == 3);
    CHECK(read(10).absolute_frame == 47);
    CHECK(is_usable(read(10)));
    CHECK_FALSE(read(10).absolute);
    CHECK(phrase(read(10)).empty());
  }
}

TEST_CASE("Q block: builders give the published blocks", "[disc]") {
  const auto stored = [](std::size_t row) {
    return build_q(from_hex<std::array<std::uint8_t, 10>>(csv_vectors("q_crc_vectors.csv").at(row).at(0)));
  };
  CHECK(build_contents_q({.control = 0, .point = 0xA2, .running = {0, 12, 40}, .p_time = {52, 34, 21}}) == stored(2));
  CHECK(build_contents_q({.control = 0, .point = 1, .running = {0, 12, 43}, .p_time = {0, 2, 0}}) == stored(3));
  CHECK(program(0, 1, 0, {0, 1, 74}, {0, 0, 0}) == stored(4));
  CHECK(program(4, 1, 1, {3, 6, 5}, {3, 8, 5}) == stored(6));
  CHECK(program(0, lead_out_track, 1, {0, 0, 0}, {52, 34, 21}) == stored(8));
  CHECK(build_catalogue_q(0, "5012345678900", 21) == stored(9));
  CHECK(build_recording_code_q(0, "ZZA1B9800123", 47) == stored(10));
  CHECK_THROWS_AS(build_catalogue_q(0, "12345", 0), eyelevel::base::Error);
  CHECK_THROWS_AS(build_recording_code_q(0, "zza1b9800123", 0), eyelevel::base::Error);
}

TEST_CASE("Q block: fields that are no BCD or out of range stay empty, and the block is not usable", "[disc]") {
  const auto damaged = [](std::size_t byte, std::uint8_t value) {
    auto payload = from_hex<std::array<std::uint8_t, 10>>("01020100310000023100");
    payload[byte] = value;
    return parse_q(build_q(payload));
  };
  CHECK(is_usable(damaged(9, 0x74)));
  CHECK_FALSE(damaged(9, 0x75).absolute);  // FRAC 00 to 74
  CHECK_FALSE(damaged(5, 0x75).relative);
  CHECK_FALSE(damaged(4, 0x60).relative);  // SEC 00 to 59
  CHECK_FALSE(damaged(3, 0x1A).relative);
  CHECK_FALSE(damaged(2, 0xA1).index);
  CHECK(damaged(1, 0x0B).track == 0);
  for (const auto& [byte, value] : {std::pair{9, 0x75}, {5, 0x75}, {4, 0x60}, {3, 0x1A}, {2, 0xA1}, {1, 0x0B}})
    CHECK_FALSE(is_usable(damaged(static_cast<std::size_t>(byte), static_cast<std::uint8_t>(value))));
  auto other_mode = from_hex<std::array<std::uint8_t, 10>>("05020100310000023100");
  CHECK_FALSE(is_usable(parse_q(build_q(other_mode))));
}

TEST_CASE("Q block: it comes back from the control bytes of a section, and P beside it", "[disc]") {
  const auto q = from_hex<QBytes>("010101000000000002005a28");
  std::array<std::uint8_t, 96> control{};
  for (int frame = 2; frame < 98; ++frame)
    control[static_cast<std::size_t>(frame - 2)] =
        static_cast<std::uint8_t>(control_byte(q, true, frame) | (frame & 0x3F));  // R to W hold something
  CHECK(q_of_control_bytes(control) == q);
  CHECK(p_ones_of_control_bytes(control) == 96);
  // ECMA-130 22.3: frame 2 holds the most significant bit of CONTROL.
  CHECK(control_byte(from_hex<QBytes>("800000000000000000000000"), false, 2) == 0x40);
  CHECK(control_byte(from_hex<QBytes>("000000000000000000000001"), false, 97) == 0x40);
  CHECK_THROWS_AS(control_byte(q, false, 1), eyelevel::base::Error);
}

TEST_CASE("Q block: two blocks continue each other only where times and tracks fit", "[disc]") {
  const auto at = [](int track, int index, MinSecFrame relative, MinSecFrame absolute) {
    return parse_q(program(0, track, index, relative, absolute));
  };
  const QBlock a = at(2, 1, {0, 31, 0}, {4, 2, 10});
  CHECK(continues(a, at(2, 1, {0, 31, 1}, {4, 2, 11}), 1));
  CHECK(continues(a, at(2, 1, {0, 31, 3}, {4, 2, 13}), 3));
  CHECK_FALSE(continues(a, at(2, 1, {0, 31, 1}, {4, 2, 11}), 2));
  CHECK_FALSE(continues(a, at(2, 1, {0, 31, 2}, {4, 2, 11}), 1));
  CHECK_FALSE(continues(a, at(1, 1, {0, 31, 1}, {4, 2, 11}), 1));
  CHECK(continues(a, at(3, 0, {0, 1, 74}, {4, 2, 11}), 1));
  CHECK(continues(at(3, 0, {0, 1, 74}, {4, 2, 11}), at(3, 0, {0, 1, 73}, {4, 2, 12}), 1));
  CHECK(continues(at(3, 0, {0, 0, 0}, {4, 2, 11}), at(3, 1, {0, 0, 0}, {4, 2, 12}), 1));
  CHECK(continues(a, parse_q(build_catalogue_q(0, "5012345678900", 11)), 1));
  CHECK_FALSE(continues(a, parse_q(build_catalogue_q(0, "5012345678900", 12)), 1));
  QBlock broken = at(2, 1, {0, 31, 1}, {4, 2, 11});
  broken.crc = false;
  CHECK_FALSE(continues(a, broken, 1));

  const auto contents = [](int point, MinSecFrame running) {
    return parse_q(build_contents_q({.control = 0, .point = point, .running = running, .p_time = {1, 0, 0}}));
  };
  CHECK(continues(contents(1, {0, 12, 74}), contents(2, {0, 13, 0}), 1));
  CHECK_FALSE(continues(contents(1, {0, 12, 74}), a, 1));
}

TEST_CASE("Q block: what is played is said in words", "[disc]") {
  CHECK(phrase(parse_q(program(0, 2, 1, {0, 31, 0}, {4, 2, 10}))) == "playing an audio track, track 2, 00:31");
  CHECK(phrase(parse_q(build_contents_q({.control = 0, .point = 1, .running = {}, .p_time = {0, 2, 0}}))) ==
        "in the lead-in (table of contents)");
  QBlock broken = parse_q(program(0, 2, 1, {0, 31, 0}, {4, 2, 10}));
  broken.crc = false;
  CHECK(phrase(broken).empty());
}

TEST_CASE("disc time: sections and minutes, seconds, frames go over into each other", "[disc]") {
  CHECK(sections_of({0, 2, 0}) == 150);
  CHECK(sections_of({99, 59, 74}) == 449999);
  for (const std::int64_t sections : {0, 74, 75, 4499, 4500, 449999}) CHECK(sections_of(time_of(sections)) == sections);
  CHECK(print({4, 2, 10}) == "04:02:10");
  CHECK_THROWS_AS(time_of(-1), eyelevel::base::Error);
  CHECK_THROWS_AS(time_of(450000), eyelevel::base::Error);
}
