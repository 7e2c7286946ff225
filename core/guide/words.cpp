// SPDX-License-Identifier: Apache-2.0
#include "core/guide/words.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <string_view>

namespace eyelevel::guide {
namespace {

struct Share {
  double parts;  // of a turn
  std::string_view words;
};
// Shares that a person can picture, so that neighbours differ by a third or less where it matters.
constexpr std::array<Share, 15> shares{{{1, "a whole turn"},
                                        {2, "half a turn"},
                                        {3, "a third of a turn"},
                                        {4, "a quarter of a turn"},
                                        {6, "a sixth of a turn"},
                                        {8, "an eighth of a turn"},
                                        {10, "a tenth of a turn"},
                                        {12, "a twelfth of a turn"},
                                        {16, "a sixteenth of a turn"},
                                        {20, "a twentieth of a turn"},
                                        {30, "a thirtieth of a turn"},
                                        {45, "a forty-fifth of a turn"},
                                        {60, "a sixtieth of a turn, one minute on a clock face"},
                                        {90, "a ninetieth of a turn, less than a minute on a clock face"},
                                        {180, "a hair, a third of a minute on a clock face"}}};

}  // namespace

std::string share_of_a_turn(double angle_deg) {
  const double parts = 360 / std::max(std::abs(angle_deg), 0.1);
  const Share* nearest = shares.data();
  for (const Share& share : shares)
    if (std::abs(std::log(share.parts / parts)) < std::abs(std::log(nearest->parts / parts))) nearest = &share;
  return fmt::format("about {}", nearest->words);
}

std::string turn_in_words(double clockwise_deg) {
  return fmt::format("{} by {:.3g} degrees, {}", clockwise_deg < 0 ? "anticlockwise" : "clockwise",
                     std::abs(clockwise_deg), share_of_a_turn(clockwise_deg));
}

}  // namespace eyelevel::guide
