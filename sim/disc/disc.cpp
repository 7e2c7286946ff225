// SPDX-License-Identifier: Apache-2.0
#include "sim/disc/disc.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <utility>

namespace eyelevel::sim {
namespace {

constexpr int sections_per_second = 75;
constexpr std::int64_t pause_sections = 2 * sections_per_second;
constexpr std::int64_t program_sections_max = 74 * 60 * sections_per_second;

// Ranges hold 5 and 95 % of all discs of a kind; `spread` is the standard deviation from disc to disc of one make.
// Reflectance of recordable and rewritable discs is public knowledge of media tests, the rest common practice.
struct KindRange {
  double light_low, light_high, spread;
  double modulation_low, modulation_high, modulation_least;
  double asymmetry_low, asymmetry_high;
  double jitter_low_ns, jitter_high_ns;
};

constexpr double z95 = 1.6448536269514722;

constexpr KindRange range_of(DiscKind kind) {
  constexpr std::array<KindRange, 3> ranges = {{
      {1, 1, 0.04, 0.60, 0.80, 0.60, -0.05, 0.10, 8, 12},         // pressed
      {0.65, 0.90, 0.07, 0.60, 0.75, 0.60, -0.10, 0.05, 10, 18},  // recordable
      {0.20, 0.33, 0.10, 0.55, 0.70, 0.50, -0.10, 0.10, 10, 18},  // rewritable
  }};
  return ranges.at(static_cast<std::size_t>(kind));
}

double normal_5_95(base::Random& random, double low, double high) {
  return random.normal(0.5 * (low + high), (high - low) / (2 * z95));
}

std::string draw_digits(base::Random& random, std::size_t count) {
  std::string digits;
  while (digits.size() < count) digits += static_cast<char>('0' + random.below(10));
  return digits;
}

// ZZ is a country code that nobody has.
std::string draw_recording_code(base::Random& random) {
  std::string code = "ZZ";
  for (int i = 0; i < 3; ++i) code += static_cast<char>('A' + random.below(26));
  return code + draw_digits(random, 7);
}

// From 0 beside the scratches to 1 in their middle, smoothly.
double scratched(double angle_rad, double wide_turns) {
  const double turns = angle_rad / (2 * std::numbers::pi);
  const double from_middle = std::abs(turns - std::floor(turns) - 0.5) / wide_turns;
  return from_middle < 0.5 ? 0.5 + 0.5 * std::cos(2 * std::numbers::pi * from_middle) : 0;
}

}  // namespace

std::string_view name_of(DiscKind kind) {
  constexpr std::array<std::string_view, 3> names = {"pressed", "recordable", "rewritable"};
  return names.at(static_cast<std::size_t>(kind));
}

const Track* Contents::track_at(std::int64_t section) const {
  if (section < 0 || section >= lead_out()) return nullptr;
  const auto after = std::ranges::upper_bound(tracks, section, {}, &Track::pause_start);
  return &*std::prev(after);
}

const Track* Contents::track(int number) const {
  const auto found = std::ranges::find(tracks, number, &Track::number);
  return found == tracks.end() ? nullptr : &*found;
}

Contents draw_contents(const ContentsWish& wish, base::Random random) {
  Contents contents;
  contents.seed = random.bits();
  contents.lead_in_sections = static_cast<std::int64_t>(random.uniform(8000, 10000));
  if (random.chance(0.5)) contents.catalogue = draw_digits(random, 13);
  const bool coded = random.chance(0.5);
  const int audio_control = (random.chance(0.3) ? 2 : 0) | (random.chance(0.03) ? 1 : 0);

  const auto wanted = wish.tracks_min +
                      static_cast<int>(random.below(static_cast<std::uint64_t>(wish.tracks_max - wish.tracks_min) + 1));
  std::int64_t at = 0;
  for (int number = 1; number <= wanted; ++number) {
    Track track;
    const bool data = wish.all_data || (wish.first_is_data && number == 1);
    track.number = number;
    track.control = data ? 4 : audio_control;
    track.pause_start = at;
    // Before track 1, and where data and audio meet, a pause is required.
    const bool must_pause = number == 1 || data || contents.tracks.back().is_data();
    track.start = at + (must_pause || random.chance(0.7) ? pause_sections : 0);
    const double length_s = random.uniform(wish.track_s_min, wish.track_s_max);
    track.end = track.start + static_cast<std::int64_t>(length_s * sections_per_second);
    if (coded && !data) track.recording_code = draw_recording_code(random);
    if (track.end > program_sections_max && number > 1) break;
    at = track.end;
    contents.tracks.push_back(std::move(track));
  }
  return contents;
}

double Disc::light_at(double radius_mm, double angle_rad) const {
  constexpr double inner_mm = 25, outer_mm = 58;
  const double outward = std::clamp((radius_mm - inner_mm) / (outer_mm - inner_mm), -0.1, 1.1);
  const double whole =
      light * (1 + light_outer * outward) * (1 + light_once_around * std::sin(angle_rad + light_phase_rad));
  return scratch_depth > 0 ? whole * (1 - scratch_depth * scratched(angle_rad, scratch_turns)) : whole;
}

Disc draw_disc(DiscKind kind, std::shared_ptr<const Contents> contents, base::Random random, std::string identity) {
  const KindRange range = range_of(kind);
  constexpr double turn_rad = 6.283185307179586;
  Disc disc;
  disc.kind = kind;
  disc.contents = std::move(contents);
  disc.identity = identity.empty() ? fmt::format("{}-{:05}", name_of(kind), random.below(100000)) : std::move(identity);
  disc.speed_m_s = random.uniform(1.2, 1.4);
  const double light_sd = std::max(range.spread, std::log(range.light_high / range.light_low) / (2 * z95));
  disc.light = std::sqrt(range.light_low * range.light_high) * std::exp(light_sd * random.normal());
  disc.modulation =
      std::clamp(random.log_normal_5_95(range.modulation_low, range.modulation_high), range.modulation_least, 0.88);
  disc.asymmetry = std::clamp(normal_5_95(random, range.asymmetry_low, range.asymmetry_high), -0.18, 0.18);
  disc.i3_scale = random.normal(1, 0.02);
  disc.jitter_ns = random.log_normal_5_95(range.jitter_low_ns, range.jitter_high_ns);
  disc.noise = random.log_normal_5_95(0.002, 0.004);
  disc.eccentricity_um = random.log_normal_5_95(5, 50);
  disc.eccentricity_phase_rad = random.uniform(0, turn_rad);
  disc.warp_mm = random.log_normal_5_95(0.05, 0.3);
  disc.light_once_around = random.log_normal_5_95(0.01, 0.03);
  disc.light_phase_rad = random.uniform(0, turn_rad);
  disc.light_outer = random.uniform(-0.03, 0.03);
  return disc;
}

}  // namespace eyelevel::sim
