// SPDX-License-Identifier: Apache-2.0
#include "sim/player/pad_signal.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "core/disc/analysis.hpp"
#include "tests/sim/player/discs.hpp"
#include "tests/sim/player/ideal_instrument.hpp"

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

constexpr Load probe{10e6, 12e-12};

Player playing(const PlayerParameters& unit, const Disc& disc = test::flat_disc(), int track = 2) {
  Player player(unit);
  player.insert(test::shared(disc), 0);
  player.switch_on(1);
  player.start_track(track, 2);
  return player;
}

std::vector<float> rendered(const Player& player, double start_s, double length_s, double rate_hz,
                            const Load& load = probe) {
  std::vector<float> volts(static_cast<std::size_t>(std::lround(length_s * rate_hz)));
  PadSignal(player).render(start_s, rate_hz, volts, load);
  return volts;
}

double mean(const std::vector<float>& volts) {
  double sum_v = 0;
  for (const float v : volts) sum_v += static_cast<double>(v);
  return sum_v / static_cast<double>(volts.size());
}
double lowest(const std::vector<float>& volts) {
  return static_cast<double>(*std::min_element(volts.begin(), volts.end()));
}
double highest(const std::vector<float>& volts) {
  return static_cast<double>(*std::max_element(volts.begin(), volts.end()));
}

double begin_of(const Player& player, PlayerState state) {
  double time_s = 0;
  while (player.state_at(time_s) != state) {
    time_s += 1e-3;
    REQUIRE(time_s < 60);
  }
  return time_s;
}

}  // namespace

TEST_CASE("pad signal: every state has its voltage", "[player]") {
  const auto player = playing(ideal_player({}));
  const double dark_v = ModelTraits{}.reference_v, top_v = dark_v + 1.2 / 0.7, bottom_v = dark_v + 1.2 / 0.7 - 1.2;
  CHECK(highest(rendered(player, 0.5, 1e-3, 1e6)) == 0);  // off

  const double search_s = begin_of(player, PlayerState::searching);
  const auto search = rendered(player, search_s, player.schedule().end_of_segment_s(search_s) - search_s, 100e3);
  CHECK(lowest(search) == Approx(dark_v).margin(0.02));
  const double hump_v = highest(search) - dark_v;  // the mean light in focus
  CHECK(hump_v > 0.8);
  CHECK(hump_v < 1.3);
  const auto above = std::count_if(search.begin(), search.end(),
                                   [&](float v) { return static_cast<double>(v) > dark_v + hump_v / 2; });
  CHECK(static_cast<double>(above) / 100e3 < 6e-3 * 3);  // humps of 2 to 6 ms, at most three

  const double open_s = begin_of(player, PlayerState::tracking_open);
  auto eccentric = test::flat_disc();
  eccentric.eccentricity_um = 50;
  const auto wobbling = playing(ideal_player({}), eccentric);
  const double crossing_s = begin_of(wobbling, PlayerState::tracking_open);
  const auto open = rendered(wobbling, crossing_s + 0.01, 0.1, 10e6);
  CHECK(highest(open) - lowest(open) > 0.95 * 1.2);
  CHECK(highest(rendered(player, open_s + 0.01, 1e-3, 10e6)) < top_v + 0.05);
  // Between tracks the swing shrinks: some half millisecond has less than three quarters of it.
  double smallest_v = 9;
  for (std::size_t i = 0; i + 500 <= open.size(); i += 500) {
    const auto [low, high] = std::minmax_element(open.begin() + static_cast<std::ptrdiff_t>(i),
                                                 open.begin() + static_cast<std::ptrdiff_t>(i + 500));
    smallest_v = std::min(smallest_v, static_cast<double>(*high - *low));
  }
  CHECK(smallest_v < 0.6 * 1.2);

  const auto play = rendered(player, begin_of(player, PlayerState::playing) + 1, 5e-3, 20e6);
  CHECK(highest(play) == Approx(top_v).margin(0.04));
  CHECK(lowest(play) == Approx(bottom_v).margin(0.04));

  auto stopped = player;
  stopped.stop(30);
  CHECK(mean(rendered(stopped, 31, 1e-3, 1e6)) == Approx(dark_v * 10e6 / 10.001e6).margin(1e-6));
}

TEST_CASE("pad signal: what is rendered is read as an audio track at the place where the player says it plays",
          "[player]") {
  const auto unit = draw_player(4, {});
  const auto contents = test::contents();
  const auto player = playing(unit, draw_disc(DiscKind::pressed, contents, base::Random(4, "disc")), 2);
  const double from_s = begin_of(player, PlayerState::playing) + 7;
  const auto volts = rendered(player, from_s, 45e-3, 20e6);
  disc::AnalysisOptions options;
  options.dark_v = player.dark_v_at(from_s);
  options.errors_wanted = false;
  const auto found = disc::analyse({.codes = std::span<const float>(volts), .rate_hz = 20e6, .screen = {}}, options);
  REQUIRE(found.has_eye);
  CHECK(found.speed == 1);
  CHECK(found.content == disc::Content::audio);
  REQUIRE_FALSE(found.subcode.empty());
  const auto block = std::find_if(found.subcode.begin(), found.subcode.end(),
                                  [](const disc::QBlock& q) { return q.crc && q.adr == 1; });
  REQUIRE(block != found.subcode.end());
  CHECK(block->track == 2);
  REQUIRE(block->absolute);
  const double place_s = block->absolute->minute * 60 + block->absolute->second + block->absolute->frame / 75.0;
  CHECK(place_s == Approx(*player.place_s_at(from_s + block->start_s)).margin(1.0 / 75));
  // 45 ms are a third of a turn: bobbing and the disc's own ripple move the level by a few per cent.
  CHECK(*found.level.peak_to_peak_v == Approx(*player.true_level_v(from_s, from_s + 45e-3)).epsilon(0.04));
  CHECK(*found.i3_over_i11 == Approx(0.684 * unit.short_run_gain).margin(0.08));
}

TEST_CASE("pad signal: rendering the same span twice gives the same samples, other spans other noise", "[player]") {
  const auto player = playing(draw_player(4, {}), test::flat_disc());
  const double from_s = begin_of(player, PlayerState::playing) + 2;
  const auto first = rendered(player, from_s, 1e-3, 20e6);
  CHECK(first == rendered(player, from_s, 1e-3, 20e6));
  CHECK(first != rendered(player, from_s + 1e-3, 1e-3, 20e6));
  // A pad that rendered something else before gives the same.
  PadSignal used(player);
  std::vector<float> other(10000), again(first.size());
  used.render(from_s + 3, 50e6, other, probe);
  used.render(from_s, 20e6, again, probe);
  CHECK(again == first);
}

TEST_CASE("pad signal: without noise a part of a record is the same as in the whole", "[player]") {
  auto disc = test::flat_disc();
  disc.eccentricity_um = 40;
  const auto player = playing(ideal_player({}), disc);
  const double from_s = begin_of(player, PlayerState::playing) + 2;
  const auto whole = rendered(player, from_s, 4e-3, 25e6);
  const auto part = rendered(player, from_s + 2e-3, 1e-3, 25e6);
  double worst_v = 0;
  for (std::size_t i = 0; i < part.size(); ++i)
    worst_v = std::max(worst_v, std::abs(static_cast<double>(part[i]) - static_cast<double>(whole[i + 50000])));
  CHECK(worst_v < 2e-3);  // blocks begin elsewhere: straight lines over 0.4 ms, steps of 0.4 % between shapes
}

TEST_CASE("pad signal: noise in the dark has the detector's density, and a heavy load filters it", "[player]") {
  auto unit = ideal_player({});
  unit.noise_v_per_sqrt_hz = 6e-3 / std::sqrt(2e6);  // 0.5 % of the level in 2 MHz
  unit.noise_bandwidth_hz = 8e6;
  Player player(unit);
  player.switch_on(0);
  const auto deviation = [](const std::vector<float>& volts) {
    const double middle_v = mean(volts);
    double squares = 0;
    for (const float v : volts) squares += (static_cast<double>(v) - middle_v) * (static_cast<double>(v) - middle_v);
    return std::sqrt(squares / static_cast<double>(volts.size()));
  };
  const double expected_v = 6e-3 * std::sqrt(1.5708 * 8 / 2);
  CHECK(deviation(rendered(player, 10, 4e-3, 100e6, test::no_load)) == Approx(expected_v).epsilon(0.02));
  // Two poles f1 (noise) and f2 (1 kOhm, 110 pF: 1.447 MHz) in a row pass f2/(f1 + f2) of the power of the first.
  CHECK(deviation(rendered(player, 10, 4e-3, 100e6, {10e6, 110e-12})) ==
        Approx(expected_v * std::sqrt(1.447 / 9.447)).epsilon(0.03));
}

TEST_CASE("pad signal: source and load make a divider that meter and oscilloscope see alike", "[player]") {
  const auto player = playing(ideal_player({}));
  const double from_s = begin_of(player, PlayerState::playing) + 2;
  const double unloaded_v = PadSignal(player).mean_v(from_s, from_s + 0.5, test::no_load);
  CHECK(PadSignal(player).mean_v(from_s, from_s + 0.5, {1e6, 100e-12}) == Approx(unloaded_v / 1.001).epsilon(1e-9));
  CHECK(mean(rendered(player, from_s, 0.05, 10e6, {1e6, 100e-12})) == Approx(unloaded_v / 1.001).epsilon(1e-3));
}

TEST_CASE("pad signal: the mean over any span is the mean of what is rendered", "[player]") {
  auto disc = test::flat_disc();
  disc.eccentricity_um = 60;
  disc.light_once_around = 0.02;
  disc.asymmetry = 0.04;
  auto unit = ideal_player({});
  unit.focus_offset_um = 1;
  unit.focus_residual_um = 0.5;
  const auto player = playing(unit, disc);
  PadSignal pad(player);
  const double from_s = begin_of(player, PlayerState::playing) + 3;
  for (const double length_s : {0.02, 0.05, 0.2}) {
    INFO(length_s);
    // Bits of a short span are not balanced to the last one: 0.05 % of the level at 20 ms.
    CHECK(pad.mean_v(from_s, from_s + length_s, probe) ==
          Approx(mean(rendered(player, from_s, length_s, 10e6))).margin(1e-3));
  }
  const double search_s = begin_of(player, PlayerState::searching);
  CHECK(pad.mean_v(search_s, search_s + 0.2, probe) == Approx(mean(rendered(player, search_s, 0.2, 1e6))).margin(1e-3));
  // Over the border of two states: off, then standby and the dark amplifier.
  CHECK(pad.mean_v(0, 2, probe) == Approx(mean(rendered(player, 0, 2, 100e3))).margin(1e-3));
  CHECK(pad.mean_v(0.3, 0.3, probe) == 0);
}

TEST_CASE("pad signal: many whole turns have the true mean, whatever the polarity", "[player]") {
  for (const bool raises : {true, false}) {
    ModelTraits model;
    model.light_raises_voltage = raises;
    model.reference_v = raises ? 0.38 : 2.5;
    const auto player = playing(draw_player(9, model), test::flat_disc());
    const double from_s = begin_of(player, PlayerState::playing) + 3;
    const double turn_s = player.loaded_disc()->spiral().turn_s(*player.place_s_at(from_s));
    const double until_s = from_s + 4 * turn_s;
    CHECK(PadSignal(player).mean_v(from_s, until_s, test::no_load) ==
          Approx(*player.true_mean_v(from_s, until_s)).epsilon(2e-5));
    CHECK((*player.true_mean_v(from_s, until_s) > player.true_dark_v(from_s, until_s)) == raises);
  }
}

TEST_CASE("pad signal: the whole eye of LF-2 units lies between 0.6 and 2.6 V", "[player]") {
  const auto contents = test::contents();
  int outside = 0;
  constexpr int units = 60;
  for (std::uint64_t seed = 0; seed < units; ++seed) {
    const auto player =
        playing(draw_player(seed, {}), draw_disc(DiscKind::pressed, contents, base::Random(seed, "disc")));
    if (!player.ready_s() || player.state_at(40) != PlayerState::playing) continue;
    const auto volts = rendered(player, 40, 0.5e-3, 20e6);
    outside += lowest(volts) < 0.6 || highest(volts) > 2.6 ? 1 : 0;
  }
  CHECK(outside <= units / 20);
}
