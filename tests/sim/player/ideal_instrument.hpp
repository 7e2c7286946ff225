// SPDX-License-Identifier: Apache-2.0
// What an instrument without noise, load and error would find at a player's pad, with knowledge of every edge: an
// independent way to the truths that the player states.
#pragma once

#include <cmath>
#include <vector>

#include "core/disc/efm/code.hpp"
#include "sim/disc/channel_stream.hpp"
#include "sim/player/pad_signal.hpp"
#include "sim/player/player.hpp"

namespace eyelevel::test {

inline constexpr sim::Load no_load{1e12, 1e-15};

// Level of 11T lands less 11T pits, each sampled at its centre, over records spread evenly over one turn of the disc.
inline double ideal_level_v(const sim::Player& player, double from_s, int records = 40) {
  constexpr double rate_hz = 40e6;
  sim::PadSignal pad(player);
  const sim::LoadedDisc& disc = *player.loaded_disc();
  sim::ChannelStream stream(disc.disc().contents);
  const double speed = player.schedule().segment_at(from_s).speed;
  const double turn_s = disc.spiral().turn_s(*player.place_s_at(from_s)) / speed;
  std::vector<float> volts(static_cast<std::size_t>(400e-6 * rate_hz));
  double sum_v = 0;
  for (int record = 0; record < records; ++record) {
    const double start_s = from_s + turn_s * record / records;
    pad.render(start_s, rate_hz, volts, no_load);
    const auto bit_at = [&](double time_s) {
      const double place_s = *player.place_s_at(time_s);
      return sim::channel_rate_1x_hz * (place_s + disc.time_error_s(disc.spiral().turns(place_s)));
    };
    const double first_bit = bit_at(start_s);
    const double bits_per_sample =
        (bit_at(start_s + static_cast<double>(volts.size()) / rate_hz) - first_bit) / static_cast<double>(volts.size());
    sim::EdgeWindow window;
    stream.edges(static_cast<std::int64_t>(first_bit) - 20, static_cast<std::int64_t>(first_bit) + 2000, window);
    double land_v = 0, pit_v = 0;
    int lands = 0, pits = 0;
    bool land = window.land_before;
    for (std::size_t i = 0; i + 1 < window.edges.size(); ++i) {
      land = !land;  // from this edge on
      if (window.edges[i + 1] - window.edges[i] != disc::efm::run_max) continue;
      const double centre = static_cast<double>(window.first_bit + window.edges[i]) + disc::efm::run_max / 2.0;
      const double sample = (centre - first_bit) / bits_per_sample;
      if (sample < 0 || sample > static_cast<double>(volts.size() - 1)) continue;
      (land ? land_v : pit_v) += static_cast<double>(volts[static_cast<std::size_t>(std::lround(sample))]);
      ++(land ? lands : pits);
    }
    sum_v += std::abs(land_v / lands - pit_v / pits);
  }
  return sum_v / records;
}

// Mean of every sample of one whole turn.
inline double ideal_mean_v(const sim::Player& player, double from_s) {
  constexpr double rate_hz = 10e6;
  sim::PadSignal pad(player);
  const double speed = player.schedule().segment_at(from_s).speed;
  const double turn_s = player.loaded_disc()->spiral().turn_s(*player.place_s_at(from_s)) / speed;
  std::vector<float> volts(static_cast<std::size_t>(std::lround(turn_s * rate_hz)));
  pad.render(from_s, rate_hz, volts, no_load);
  double sum_v = 0;
  for (const float v : volts) sum_v += static_cast<double>(v);
  return sum_v / static_cast<double>(volts.size());
}

}  // namespace eyelevel::test
