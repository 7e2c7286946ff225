// SPDX-License-Identifier: Apache-2.0
// What a prompt asks a person to do, understood by its words: the deeds in the order of the text. Words that are not
// known ask for nothing; a person then looks and says "done". Not here: doing it (simulated_operator.hpp). Pure; any
// text is legal.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::bench {

enum class DeedKind {
  insert_disc,  // `what` holds the words that tell which
  remove_disc,
  switch_on,
  switch_off,
  start_track,  // `track`
  repeat_disc,  // from its first track again when it has ended
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

// Whether the player's laser is lit when all of it is done; empty: as it was before. A disc that is inserted is looked
// for with the laser on.
std::optional<bool> leaves_laser_lit(std::string_view prompt);

}  // namespace eyelevel::bench
