// SPDX-License-Identifier: Apache-2.0
// What a prompt asks a person to do, understood by its words: the deeds in the order of the text. Words that are not
// known ask for nothing; a person then looks and says "done". Not here: doing it (simulated_operator.hpp). Pure; any
// text is legal.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::sim {

enum class DeedKind {
  insert_disc,  // `what` holds the words that tell which
  remove_disc,
  switch_on,
  switch_off,
  start_track,  // `track`
  pause,
  resume,
  stop,
  turn_trimmer,  // `clockwise_deg`, positive clockwise
  move_lead,     // `lead` to `place`
  look,          // nothing of the player's
};

struct Deed {
  DeedKind kind = DeedKind::look;
  std::string what;
  int track = 1;
  double clockwise_deg = 0;
  bool off_meanwhile = false;  // the text wants the player off for it
  bool live = false;           // the text wants it done while the player plays
  std::string lead{};          // "probe", "counter"
  std::string place{};         // "calibrator", "ground", "pad"
};

// "A little" without a number.
inline constexpr double a_little_deg = 4;

std::vector<Deed> deeds_asked_for(std::string_view prompt);

}  // namespace eyelevel::sim
