// SPDX-License-Identifier: Apache-2.0
#include "core/disc/subcode/q.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <string_view>

#include "core/base/error.hpp"

namespace eyelevel::disc::subcode {
namespace {

constexpr unsigned crc_polynomial = 0x1021;
constexpr std::int64_t sections_per_minute = 60 * sections_per_second;
constexpr std::int64_t sections_max = 100 * sections_per_minute;  // one more than 99:59:74

constexpr std::array<std::uint16_t, 256> make_crc_table() {
  std::array<std::uint16_t, 256> table{};
  for (unsigned byte = 0; byte < 256; ++byte) {
    unsigned x = byte << 8U;
    for (int bit = 0; bit < 8; ++bit) x = (x & 0x8000U) ? x << 1U ^ crc_polynomial : x << 1U;
    table[byte] = static_cast<std::uint16_t>(x);
  }
  return table;
}
constexpr auto crc_table = make_crc_table();

std::optional<int> from_bcd(std::uint8_t byte) {
  const int tens = byte >> 4, ones = byte & 0x0F;
  if (tens > 9 || ones > 9) return std::nullopt;
  return 10 * tens + ones;
}

std::uint8_t to_bcd(int value) { return static_cast<std::uint8_t>(value / 10 << 4 | value % 10); }

std::optional<int> frame_from_bcd(std::uint8_t byte) {
  const auto frame = from_bcd(byte);
  return frame && *frame < sections_per_second ? frame : std::nullopt;
}

void put_time(std::uint8_t* bytes, const MinSecFrame& time) {
  bytes[0] = to_bcd(time.minute);
  bytes[1] = to_bcd(time.second);
  bytes[2] = to_bcd(time.frame);
}

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::defect, std::move(message)); }

void parse_contents_item(const QBytes& bytes, QBlock& block) {
  block.track = 0;
  const std::uint8_t point = bytes[2];
  block.point = point;
  if (point < 0xA0) {
    block.index = from_bcd(point);
    if (block.index == 0) block.index.reset();
  }
  block.relative = time_from_bcd(std::span(bytes).subspan<3, 3>());
  if (point >= 0xA0 && point < 0xA2) {
    // P-MIN is a track number, P-SEC may hold a disc type in later standards: digits, but no time.
    const auto minute = from_bcd(bytes[7]), second = from_bcd(bytes[8]), frame = from_bcd(bytes[9]);
    if (minute && second && frame) block.absolute = MinSecFrame{*minute, *second, *frame};
  } else {
    block.absolute = time_from_bcd(std::span(bytes).subspan<7, 3>());
  }
}

void parse_program_position(const QBytes& bytes, QBlock& block) {
  block.track = bytes[1] == lead_out_track ? lead_out_track : from_bcd(bytes[1]).value_or(0);
  block.index = from_bcd(bytes[2]);
  block.relative = time_from_bcd(std::span(bytes).subspan<3, 3>());
  block.absolute = time_from_bcd(std::span(bytes).subspan<7, 3>());
  if (block.absolute) block.absolute_frame = block.absolute->frame;
}

}  // namespace

std::uint16_t q_crc(Payload payload) {
  unsigned crc = 0;
  for (const std::uint8_t byte : payload) crc = (crc << 8U ^ crc_table[(crc >> 8U ^ byte) & 0xFFU]) & 0xFFFFU;
  return static_cast<std::uint16_t>(~crc);
}

QBlock parse_q(const QBytes& bytes) {
  QBlock block;
  block.crc = q_crc(Payload(bytes.data(), 10)) == (bytes[10] << 8 | bytes[11]);
  block.control = bytes[0] >> 4;
  block.adr = bytes[0] & 0x0F;
  if (block.adr == 1) {
    if (bytes[1] == 0) {
      parse_contents_item(bytes, block);
    } else {
      parse_program_position(bytes, block);
    }
  } else if (block.adr == 2 || block.adr == 3) {
    block.absolute_frame = frame_from_bcd(bytes[9]);
  }
  return block;
}

bool is_usable(const QBlock& block) {
  if (!block.crc) return false;
  if (block.adr == 2 || block.adr == 3) return block.absolute_frame.has_value();
  if (block.adr != 1 || !block.relative || !block.absolute) return false;
  if (block.point) return block.index.has_value() || (*block.point >= 0xA0 && *block.point <= 0xA2);
  return block.track != 0 && block.index.has_value();
}

QBytes q_of_control_bytes(std::span<const std::uint8_t, 96> control) {
  QBytes q{};
  for (std::size_t i = 0; i < control.size(); ++i)
    q[i / 8] = static_cast<std::uint8_t>(q[i / 8] << 1 | (control[i] >> 6 & 1));
  return q;
}

int p_ones_of_control_bytes(std::span<const std::uint8_t, 96> control) {
  return static_cast<int>(std::ranges::count_if(control, [](std::uint8_t byte) { return (byte & 0x80) != 0; }));
}

std::uint8_t control_byte(const QBytes& q, bool p, int frame) {
  if (frame < 2 || frame > 97)
    refuse(fmt::format("control byte of frame {}: a section has them in frames 2 to 97", frame));
  const auto bit = static_cast<std::size_t>(frame - 2);
  const int q_bit = q[bit / 8] >> (7 - bit % 8) & 1;
  return static_cast<std::uint8_t>((p ? 0x80 : 0) | q_bit << 6);
}

QBytes build_q(Payload payload) {
  QBytes q{};
  std::copy(payload.begin(), payload.end(), q.begin());
  const std::uint16_t crc = q_crc(payload);
  q[10] = static_cast<std::uint8_t>(crc >> 8);
  q[11] = static_cast<std::uint8_t>(crc);
  return q;
}

QBytes build_program_q(const ProgramPosition& position) {
  std::array<std::uint8_t, 10> payload{};
  payload[0] = static_cast<std::uint8_t>(position.control << 4 | 1);
  payload[1] = position.track == lead_out_track ? std::uint8_t{lead_out_track} : to_bcd(position.track);
  payload[2] = to_bcd(position.index);
  put_time(&payload[3], position.relative);
  put_time(&payload[7], position.absolute);
  return build_q(payload);
}

QBytes build_contents_q(const ContentsItem& item) {
  std::array<std::uint8_t, 10> payload{};
  payload[0] = static_cast<std::uint8_t>(item.control << 4 | 1);
  payload[2] = item.point >= 0xA0 ? static_cast<std::uint8_t>(item.point) : to_bcd(item.point);
  put_time(&payload[3], item.running);
  put_time(&payload[7], item.p_time);
  return build_q(payload);
}

QBytes build_catalogue_q(int control, std::string_view digits, int absolute_frame) {
  if (digits.size() != 13 || !std::ranges::all_of(digits, [](char c) { return c >= '0' && c <= '9'; }))
    refuse(fmt::format("catalogue number \"{}\": expected 13 decimal digits", digits));
  std::array<std::uint8_t, 10> payload{};
  payload[0] = static_cast<std::uint8_t>(control << 4 | 2);
  for (std::size_t i = 0; i < digits.size(); ++i)
    payload[1 + i / 2] |= static_cast<std::uint8_t>((digits[i] - '0') << (i % 2 == 0 ? 4 : 0));
  payload[9] = to_bcd(absolute_frame);
  return build_q(payload);
}

QBytes build_recording_code_q(int control, std::string_view code, int absolute_frame) {
  const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
  const auto is_letter = [](char c) { return c >= 'A' && c <= 'Z'; };
  const bool well_formed = code.size() == 12 && std::ranges::all_of(code.substr(5), is_digit) &&
                           std::ranges::all_of(code.substr(0, 5), [&](char c) { return is_digit(c) || is_letter(c); });
  if (!well_formed) refuse(fmt::format("recording code \"{}\": expected 5 of 0-9 A-Z, then 7 digits", code));

  std::uint64_t bits = 0;  // 5 x 6 bits, 2 zero bits, 7 x 4 bits, 4 zero bits
  for (const char c : code.substr(0, 5))
    bits = bits << 6U | static_cast<unsigned>(is_digit(c) ? c - '0' : c - 'A' + 17);
  bits <<= 2U;
  for (const char c : code.substr(5)) bits = bits << 4U | static_cast<unsigned>(c - '0');
  bits <<= 4U;

  std::array<std::uint8_t, 10> payload{};
  payload[0] = static_cast<std::uint8_t>(control << 4 | 3);
  for (std::size_t i = 0; i < 8; ++i) payload[1 + i] = static_cast<std::uint8_t>(bits >> (8 * (7 - i)));
  payload[9] = to_bcd(absolute_frame);
  return build_q(payload);
}

std::optional<MinSecFrame> time_from_bcd(std::span<const std::uint8_t, 3> bytes) {
  const auto minute = from_bcd(bytes[0]), second = from_bcd(bytes[1]), frame = frame_from_bcd(bytes[2]);
  if (!minute || !second || *second > 59 || !frame) return std::nullopt;
  return MinSecFrame{*minute, *second, *frame};
}

std::int64_t sections_of(const MinSecFrame& time) {
  return time.minute * sections_per_minute + time.second * sections_per_second + time.frame;
}

MinSecFrame time_of(std::int64_t sections) {
  if (sections < 0 || sections >= sections_max)
    refuse(fmt::format("{} sections have no time on a disc: expected 0 to {}", sections, sections_max - 1));
  return {.minute = static_cast<int>(sections / sections_per_minute),
          .second = static_cast<int>(sections % sections_per_minute / sections_per_second),
          .frame = static_cast<int>(sections % sections_per_second)};
}

std::string print(const MinSecFrame& time) {
  return fmt::format("{:02}:{:02}:{:02}", time.minute, time.second, time.frame);
}

bool continues(const QBlock& earlier, const QBlock& later, int sections_apart) {
  if (!is_usable(earlier) || !is_usable(later) || sections_apart < 1) return false;
  const bool both_in_lead_in = earlier.point && later.point;
  if (both_in_lead_in) return sections_of(*later.relative) - sections_of(*earlier.relative) == sections_apart;
  if (earlier.point || later.point) return false;
  if (!earlier.absolute || !later.absolute)  // ADR 2 or 3: only the frame number tells
    return ((*later.absolute_frame - *earlier.absolute_frame - sections_apart) % sections_per_second) == 0;
  if (sections_of(*later.absolute) - sections_of(*earlier.absolute) != sections_apart) return false;
  // Track numbers rise; 0xAA is above all.
  if (later.track < earlier.track) return false;
  if (later.track > earlier.track || *later.index != *earlier.index) return true;
  const int direction = *earlier.index == 0 ? -1 : 1;  // the pause counts down
  return (sections_of(*later.relative) - sections_of(*earlier.relative)) * direction == sections_apart;
}

std::string phrase(const QBlock& block) {
  if (!is_usable(block) || block.adr != 1) return {};
  if (block.point) return "in the lead-in (table of contents)";
  if (block.track == lead_out_track) return "in the lead-out";
  const std::string kind = content_of(block) == Content::data ? "a data track" : "an audio track";
  if (*block.index == 0) return fmt::format("in the pause before track {}, {}", block.track, kind);
  return fmt::format("playing {}, track {}, {:02}:{:02}", kind, block.track, block.relative->minute,
                     block.relative->second);
}

Content content_of(const QBlock& block) {
  if (!is_usable(block) || block.point) return Content::unknown;
  return (block.control & 0x4) != 0 ? Content::data : Content::audio;
}

}  // namespace eyelevel::disc::subcode
