// SPDX-License-Identifier: Apache-2.0
// The whole channel decode (clock, eye, jitter, EFM, subcode, CIRC counts) of half a second of a 1x disc as int8 at
// 20 MSa/s: times real time on one core, and against reading the same samples once. The error-correcting code alone on
// clean frames: times real time at 1x, 7350 frames a second.
#include <fmt/format.h>

#include <numeric>

#include "core/base/random.hpp"
#include "core/disc/analysis.hpp"
#include "core/disc/circ/decoder.hpp"
#include "core/disc/circ/encoder.hpp"
#include "tests/speed/speed.hpp"
#include "tests/support/eye_renderer.hpp"

namespace eyelevel::speed {

namespace {

void circ_speed(Table& table) {
  constexpr double frames_per_s = 7350;  // ECMA-130 19.4 at 1x
  base::Random random(1, "bytes");
  disc::circ::Encoder encoder;
  std::vector<disc::circ::F2Frame> frames(7350);  // short rounds, so that some are not broken in on
  for (auto& frame : frames) {
    disc::circ::F1Frame f1;
    for (auto& byte : f1) byte = static_cast<std::uint8_t>(random.below(256));
    frame = encoder.push(f1);
  }
  disc::C1Counts counts;
  std::int64_t given = 0, sum = 0;
  const Pair best = shortest_of_both(
      50,
      [&] {
        disc::circ::Decoder decoder;
        given = 0;
        for (const auto& frame : frames) given += decoder.push(frame).has_value();
        counts = decoder.c1();
      },
      [&] {
        for (const auto& frame : frames) sum += std::accumulate(frame.begin(), frame.end(), std::int64_t{0});
      });
  const auto n = static_cast<double>(frames.size());
  require(counts.e11 + counts.e21 + counts.e31 == 0 && given == static_cast<std::int64_t>(n) - 111 && sum != 1, "CIRC");
  table.add({.what = "CIRC alone on clean frames, one core",
             .against = "real time",
             .figure = n / frames_per_s / best.first_s,
             .unit = "x real time",
             .target = 2000,
             .tolerated = 400,
             .less_is_better = false,
             .detail = fmt::format("{:.0f} ns a frame; one plain read of them goes {:.0f} times as fast",
                                   1e9 * best.first_s / n, best.first_s / best.second_s)});
}

}  // namespace

void disc_speed(Table& table) {
  circ_speed(table);
  support::EyeSettings settings;
  settings.duration_s = 0.5;
  settings.edge_jitter_t = 0.03;
  const signal::Waveform wave = support::render(settings).on_screen(0.4, 2.4);
  const auto& codes = std::get<std::vector<std::int8_t>>(wave.codes);
  disc::Analysis analysis;
  std::int64_t sum = 0;
  const Pair best = shortest_of_both(
      40, [&] { analysis = disc::analyse(wave.view()); },
      [&] {
        std::int32_t part = 0;
        for (const std::int8_t code : codes) part += code;
        sum += part;
      });
  require(analysis.subcode.size() >= 36 && analysis.c1 && analysis.c1->e31 == 0 && sum != 1, "channel decode");
  const double n = static_cast<double>(codes.size());
  table.add({.what = "full channel decode of a 1x disc, int8 at 20 MSa/s, one core",
             .against = "real time",
             .figure = settings.duration_s / best.first_s,
             .unit = "x real time",
             .target = 50,
             .tolerated = 10,
             .less_is_better = false,
             .detail = fmt::format("{:.0f} million samples a second; one plain read of them goes {:.0f} times as fast",
                                   n / best.first_s / 1e6, best.first_s / best.second_s)});
}

}  // namespace eyelevel::speed
