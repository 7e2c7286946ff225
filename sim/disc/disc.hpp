// SPDX-License-Identifier: Apache-2.0
// What a simulated disc is: its contents (tracks, times, a seed for the music) and its body (light, modulation,
// asymmetry, speed, eccentricity ...), drawn with a seeded stream. Two discs of different kinds may share one Contents.
// Not for what a bad pickup makes of it: optics.hpp. Times are sections (75 to the second) from absolute time 00:00:00;
// the lead-in is negative. Contents is never changed after it was made: share it between threads.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/random.hpp"

namespace eyelevel::sim {

enum class DiscKind { pressed, recordable, rewritable };
std::string_view name_of(DiscKind kind);

struct Track {
  int number = 1;
  int control = 0;               // 4: data, 2: copy permitted, 1: pre-emphasis; ECMA-130 22.3.1
  std::int64_t pause_start = 0;  // first section with INDEX 00; equals `start` where there is no pause
  std::int64_t start = 0;        // first section with INDEX 01
  std::int64_t end = 0;          // first section that is no more of this track
  std::string recording_code;    // 12 characters, ADR 3; empty: none
  bool is_data() const { return (control & 4) != 0; }
};

struct Contents {
  std::uint64_t seed = 1;
  std::vector<Track> tracks;  // in order, without gaps; the first begins at section 0 with a pause of 150
  std::string catalogue;      // 13 digits, ADR 2; empty: none
  std::int64_t lead_in_sections = 9000;
  std::int64_t lead_out() const { return tracks.empty() ? 0 : tracks.back().end; }  // its first section
  // The track that holds a section (pause included), or nullptr in lead-in and lead-out.
  const Track* track_at(std::int64_t section) const;
  const Track* track(int number) const;
};

struct ContentsWish {
  int tracks_min = 8, tracks_max = 16;
  double track_s_min = 120, track_s_max = 360;
  bool first_is_data = false;  // mixed mode: track 1 holds data, the others audio
  bool all_data = false;
};
Contents draw_contents(const ContentsWish& wish, base::Random random);

struct Disc {
  std::string identity;  // on its label
  DiscKind kind = DiscKind::pressed;
  std::shared_ptr<const Contents> contents;

  double speed_m_s = 1.3;       // 1.2 to 1.4, ECMA-130 11.4
  double light = 1;             // top level of this disc over that of an average pressed disc
  double modulation = 0.70;     // I11/Itop
  double asymmetry = 0.02;      // ECMA-130 12.3
  double i3_scale = 1;          // of I3/I11, this disc's pits against ideal ones; the pickup's own factor is apart
  double jitter_ns = 10;        // this disc's share of the standard deviation of a run's length at 1x
  double noise = 0.003;         // of I11, standard deviation in 2 MHz, from the surface
  double eccentricity_um = 20;  // of the hole; clamping adds its own
  double eccentricity_phase_rad = 0;
  double warp_mm = 0.1;             // height at the rim, grows as the square of the radius
  double light_once_around = 0.01;  // relative amplitude
  double light_phase_rad = 0;
  double light_outer = 0;  // relative change from 25 mm to 58 mm
  // A bundle of scratches from the middle outwards: the share of the light that it takes, and of a turn that it is
  // wide.
  double scratch_depth = 0;
  double scratch_turns = 0;

  // Light at a place of the disc over that of an average pressed disc.
  double light_at(double radius_mm, double angle_rad) const;
};

// Disc to disc spread as the table of kinds has it. The identity is drawn, too, unless given.
Disc draw_disc(DiscKind kind, std::shared_ptr<const Contents> contents, base::Random random, std::string identity = {});

}  // namespace eyelevel::sim
