// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/truth.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

namespace {

metrology::Reading reading(std::string name, std::string measure, std::vector<std::string> inputs, double from_s,
                           double until_s) {
  metrology::Reading r;
  r.name = std::move(name);
  r.measure = std::move(measure);
  r.inputs = std::move(inputs);
  r.from_s = from_s;
  r.until_s = until_s;
  return r;
}

}  // namespace

TEST_CASE("truth: level and means come from the player; differences and ratios from the truths of their parts",
          "[sim]") {
  sim::Player player(sim::ideal_player({}));
  const auto contents = std::make_shared<const sim::Contents>(sim::draw_contents({}, base::Random(1)));
  player.switch_on(0);
  const auto disc =
      std::make_shared<const sim::Disc>(sim::draw_disc(sim::DiscKind::pressed, contents, base::Random(2)));
  player.insert(disc, 20);
  player.start_track(2, 20);
  REQUIRE(player.ready_s().has_value());
  const double from_s = *player.ready_s() + 1, until_s = from_s + 2;

  const auto truths = sim::truths_of(
      player, {reading("dark", "d.c. level", {}, 10, 12), reading("playing", "d.c. level", {}, from_s, until_s),
               reading("level", "eye level", {"captures"}, from_s, until_s),
               reading("rise", "difference of", {"playing", "dark"}, 10, until_s),
               reading("share", "ratio of", {"rise", "level"}, 10, until_s)});
  CHECK(truths.at("level") == Approx(*player.true_level_v(from_s, until_s)));
  CHECK(truths.at("dark") == Approx(player.true_dark_v(10, 12)).margin(1e-6));
  CHECK(truths.at("playing") == Approx(*player.true_mean_v(from_s, until_s)));
  CHECK(truths.at("rise") == Approx(truths.at("playing") - truths.at("dark")));
  CHECK(truths.at("share") == Approx(truths.at("rise") / truths.at("level")));
}

TEST_CASE("truth: a reading that the physics does not tell is missing, and so is what was made of it", "[sim]") {
  sim::Player player(sim::ideal_player({}));
  const auto truths = sim::truths_of(
      player, {reading("odd", "peak to peak", {}, 0, 1), reading("change", "difference of", {"odd", "odd"}, 0, 1)});
  CHECK(truths.empty());
}
