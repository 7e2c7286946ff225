// SPDX-License-Identifier: Apache-2.0
// The whole channel decode (clock, eye, jitter, EFM, subcode, CIRC counts) of half a second of a 1x disc as int8 at
// 20 MSa/s: times real time on one core, and against reading the same samples once.
#include <fmt/format.h>

#include <numeric>

#include "core/disc/analysis.hpp"
#include "tests/speed/speed.hpp"
#include "tests/support/eye_renderer.hpp"

namespace eyelevel::speed {

void disc_speed(Table& table) {
  support::EyeSettings settings;
  settings.duration_s = 0.5;
  settings.edge_jitter_t = 0.03;
  const signal::Waveform wave = support::render(settings).on_screen(0.4, 2.4);
  const auto& codes = std::get<std::vector<std::int8_t>>(wave.codes);
  disc::Analysis analysis;
  std::int64_t sum = 0;
  const Pair best = shortest_of_both(
      5, [&] { analysis = disc::analyse(wave.view()); },
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
