// SPDX-License-Identifier: Apache-2.0
#include "core/guide/advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "core/guide/words.hpp"

namespace eyelevel::guide {
namespace {

// What a hand can make: 2 to 5 degrees are the smallest (practice value).
constexpr std::array<double, 3> first_turns_deg{5, 4, 3};
constexpr std::array<double, 21> turns_deg{2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 24, 28, 32, 38, 45, 55, 70};
// Of passing the ceiling: what a first turn may risk before it is made smaller; what every other turn may that is to
// raise the reading, and one that is to lower it, where only a wrong sense can raise it; and what the smallest turn may
// where nothing smaller can be done.
constexpr double first_risk = 1e-2;
constexpr double raising_risk = 1e-4;
constexpr double lowering_risk = 1e-2;
constexpr double highest_risk = 1e-3;
constexpr double further_up = 1.04;

// A change of so many standard uncertainties can be seen.
constexpr double seen = 2;
constexpr double landing = 0.007;  // relative, of a good wiper, in both readings (practice value)

// No turn goes farther than so many times the largest one before: what is not yet sure of its way is tried first.
constexpr double sure_of_the_way = 0.85;
constexpr double farther = 5, farther_unsure = 2;

constexpr double sure = 0.95;
constexpr int turns_to_be_sure = 3;

}  // namespace

void Guide::turned(double asked_deg, const Standing& before, const Standing& after) {
  const double uncertainty = std::hypot(before.repeatability, after.repeatability);
  model_.push({asked_deg, before.value, after.value, uncertainty});
  ++turns_;
  farthest_deg_ = std::max(farthest_deg_, std::abs(asked_deg));
  const double rest = std::hypot(uncertainty, landing * aim_.middle());
  last_did_nothing_ = std::abs(after.value - before.value) < seen * rest;
  if (!last_did_nothing_) ++turns_that_moved_;
}

// Beyond the ceiling already, it shall at least not go further up.
double Guide::above(const Standing& now, double clockwise_deg) const {
  if (!aim_.ceiling) return 0;
  const double ceiling = std::max(*aim_.ceiling, further_up * now.value);
  return model_.above(now.value, now.repeatability, clockwise_deg, ceiling);
}

double Guide::first_turn_deg(const Standing& now) const {
  const bool clockwise = (now.value < aim_.middle()) == (model_.clockwise_raises() >= 0.5);
  for (const double size : first_turns_deg)
    if (above(now, clockwise ? size : -size) <= first_risk) return clockwise ? size : -size;
  return clockwise ? first_turns_deg.back() : -first_turns_deg.back();
}

// The turn that most likely brings it within the limits, of those that the ceiling allows.
std::optional<double> Guide::best_turn_deg(const Standing& now) const {
  const double half = (aim_.most - aim_.least) / 2;
  const double guarded = std::max(half - now.expanded_uncertainty, half / 10);
  const bool is_low = now.value < aim_.middle();
  const bool clockwise = is_low == (model_.clockwise_raises() >= 0.5);
  const double smallest = clockwise ? turns_deg.front() : -turns_deg.front();
  const double risk = is_low ? raising_risk : lowering_risk;
  // Where even the smallest may pass it, no larger one is tried: too low, it is left; too high, the sense is not sure.
  if (const double least = above(now, smallest); least > risk) {
    if (is_low && least > highest_risk) return std::nullopt;
    return is_low ? smallest : std::copysign(first_turns_deg.back(), smallest);
  }
  const double of_the_way = std::max(model_.clockwise_raises(), 1 - model_.clockwise_raises());
  const double most = farthest_deg_ * (of_the_way > sure_of_the_way ? farther : farther_unsure);
  double best = smallest, best_score = -1;
  for (const double size : turns_deg)
    for (const double turn : {size, -size}) {
      if (size > most) continue;
      if (above(now, turn) > risk) continue;
      const double score = model_.nearness(now.value, turn, aim_.middle() - guarded, aim_.middle() + guarded);
      if (score <= best_score) continue;
      best_score = score;
      best = turn;
    }
  return best;
}

std::optional<Stop> Guide::stop(const Standing& now) const {
  if (turns_ < turns_to_be_sure) return std::nullopt;
  const std::string value = fmt::format("{:.3g} {}", now.value, aim_.unit);
  if (model_.contact_is_bad() > sure)
    return Stop{"trimmer contact bad",
                fmt::format("the reading jumps from turn to turn as no turn explains; it is {} now", value)};
  // A reading that only falls can still be brought down.
  const double at_limit = now.value < aim_.middle() ? model_.is_at_limit() : 0;
  if (model_.follows() - at_limit > 1 - sure) return std::nullopt;
  if (at_limit > sure / 2)
    return Stop{"no trimmer position within limits",
                fmt::format("turned up it rises no further, turned down it falls; it is {} now: the laser is worn and "
                            "takes all the current that its driver gives",
                            value)};
  if (turns_that_moved_ == 0)
    return Stop{
        "the level does not follow the trimmer",
        fmt::format("{} turns changed nothing that can be seen, it is still {}: the laser's driver at its limit, "
                    "another trimmer turned, or a pad behind a gain control",
                    turns_, value)};
  return Stop{"no trimmer position within limits",
              fmt::format("it followed the trimmer before and does so no more, at {}: the laser's driver at its limit, "
                          "or the end of the track",
                          value)};
}

Advice Guide::advise(const Standing& now) const {
  Advice advice;
  advice.last_did_nothing = last_did_nothing_;
  advice.stop = stop(now);
  if (advice.stop) return advice;
  const std::optional<double> turn = turns_ == 0 ? first_turn_deg(now) : best_turn_deg(now);
  if (!turn) {
    advice.stop =
        Stop{"ceiling too near", fmt::format("the smallest turn upwards may pass {:.3g} {}; it is {:.3g} {} now",
                                             *aim_.ceiling, aim_.unit, now.value, aim_.unit)};
    return advice;
  }
  advice.clockwise_deg = *turn;
  advice.words = turn_in_words(*turn);
  const bool is_up = now.value < aim_.middle();
  advice.belief = (*turn > 0) == is_up ? model_.clockwise_raises() : 1 - model_.clockwise_raises();
  advice.predicted = model_.predict(now.value, *turn);
  advice.may_pass_ceiling = above(now, *turn);
  return advice;
}

}  // namespace eyelevel::guide
