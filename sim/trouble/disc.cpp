// SPDX-License-Identifier: Apache-2.0
// Troubles of the disc that lies in the player.
#include <memory>

#include "sim/trouble/trouble.hpp"

namespace eyelevel::sim {
namespace {

using base::ErrorCode;
using enum Demand::Ending;

void each_disc(UnitMake& make, const std::function<void(Disc&)>& change) {
  for (auto& in_box : make.box) {
    auto disc = std::make_shared<Disc>(*in_box);
    change(*disc);
    in_box = std::move(disc);
  }
}

// Printed side down: little light comes back, and none from a track.
void upside_down(UnitMake& make, base::Random& random) {
  const double light = random.uniform(0.02, 0.08);
  each_disc(make, [light](Disc& disc) { disc.light = light; });
}

void all_data(UnitMake& make, base::Random& random) {
  const auto contents = std::make_shared<const Contents>(draw_contents({.all_data = true}, random));
  each_disc(make, [&contents](Disc& disc) { disc.contents = contents; });
}

void scratched(UnitMake& make, base::Random& random) {
  const double depth = random.uniform(0.3, 0.7), turns = random.uniform(0.1, 0.2);
  each_disc(make, [&](Disc& disc) {
    disc.scratch_depth = depth;
    disc.scratch_turns = turns;
  });
}

}  // namespace

void register_disc_troubles(Troubles& troubles) {
  add(troubles, {{"disc upside down",
                  "the disc lies with its printed side down",
                  "that there is no eye",
                  {"no eye"},
                  {no_eye, {ErrorCode::wait_ran_out, ErrorCode::no_answer}},
                  upside_down},
                 {"data disc",
                  "the disc holds data tracks and no audio",
                  "that the track is data",
                  {"data"},
                  {no_eye, {ErrorCode::wait_ran_out}},
                  all_data},
                 {"disc scratched",
                  "a bundle of scratches takes up to 70 % of the light once around",
                  "that the level is short or does not settle",
                  {"below", "focus", "no lock", "no eye"},
                  {by_truth, {ErrorCode::wait_ran_out}},
                  scratched}});
}

}  // namespace eyelevel::sim
