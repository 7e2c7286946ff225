// SPDX-License-Identifier: Apache-2.0
// The Q and P channels of a section: ECMA-130 2nd ed. clause 22. Twelve bytes, most significant bit first: CONTROL and
// ADR, nine bytes of data, CRC (x^16 + x^12 + x^5 + 1, stored inverted). Times are BCD minutes, seconds and frames (75
// to the second). Not for finding sections in a channel: that is the clock's work. All functions are pure.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "core/disc/analysis.hpp"

namespace eyelevel::disc::subcode {

inline constexpr int sections_per_second = 75;
inline constexpr int lead_out_track = 0xAA;

using QBytes = std::array<std::uint8_t, 12>;
using Payload = std::span<const std::uint8_t, 10>;

// CRC as stored (inverted) over CONTROL, ADR and data; 22.3.6.
std::uint16_t q_crc(Payload payload);

// What a block says. `crc` tells whether the CRC holds. A field that is not valid BCD, or is out of its range, stays
// empty (track: 0); is_usable() then is false. start_s stays 0.
QBlock parse_q(const QBytes& bytes);
// CRC holds, ADR is 1, 2 or 3, and every field that this ADR must have is there and valid.
bool is_usable(const QBlock& block);

// Control bytes of the 96 frames after S0 and S1, in order, to the Q block (bit 0x40) and to P (bit 0x80: how many
// ONEs).
QBytes q_of_control_bytes(std::span<const std::uint8_t, 96> control);
int p_ones_of_control_bytes(std::span<const std::uint8_t, 96> control);
// The control byte of frame 2 to 97 of a section; R to W are zero. Frames 0 and 1 carry S0 and S1 instead.
std::uint8_t control_byte(const QBytes& q, bool p, int frame);

// Builders. CONTROL is four bits (4: data, 2: copy permitted, 1: pre-emphasis).
QBytes build_q(Payload payload);  // appends the CRC
struct ProgramPosition {
  int control = 0;
  int track = 1;  // 1..99, or lead_out_track
  int index = 1;  // 0: pause
  MinSecFrame relative;
  MinSecFrame absolute;
};
QBytes build_program_q(const ProgramPosition& position);
struct ContentsItem {
  int control = 0;
  int point = 1;        // 1..99 (a track), 0xA0, 0xA1, 0xA2
  MinSecFrame running;  // time in the lead-in
  MinSecFrame p_time;   // start of the track or of the lead-out; P-MIN holds the track number for A0 and A1
};
QBytes build_contents_q(const ContentsItem& item);
// ADR 2: catalogue number of 13 decimal digits, and ADR 3: recording code of 12 characters (5 of 0-9 A-Z, then 7
// digits). Both throw base::Error (defect) for text of another form.
QBytes build_catalogue_q(int control, std::string_view digits, int absolute_frame);
QBytes build_recording_code_q(int control, std::string_view code, int absolute_frame);

// Minute, second and frame in BCD, as a Q block and the header of a data sector hold them; empty if it is no time.
std::optional<MinSecFrame> time_from_bcd(std::span<const std::uint8_t, 3> bytes);
// Sections since 00:00:00, and back. Negative or beyond 99:59:74 is a defect (throws).
std::int64_t sections_of(const MinSecFrame& time);
MinSecFrame time_of(std::int64_t sections);
std::string print(const MinSecFrame& time);  // "MM:SS:FF"

// Whether `later`, read `sections_apart` sections (1 or more) after `earlier`, continues it: both usable, times and
// track fit together (ADR 2 and 3 hold only A-FRAC; in the lead-in the running time counts).
bool continues(const QBlock& earlier, const QBlock& later, int sections_apart);

// In words, for people: "playing an audio track, track 2, 00:31", "in the pause before track 3, an audio track", "in
// the lead-in (table of contents)", "in the lead-out". Empty for a block that is not usable or holds no position (ADR
// 2, 3).
std::string phrase(const QBlock& block);
// Audio or data by CONTROL, of the program area and lead-out; unknown for the lead-in and blocks not usable.
Content content_of(const QBlock& block);

}  // namespace eyelevel::disc::subcode
