// SPDX-License-Identifier: Apache-2.0
// Which way to turn the trimmer, how far, what to expect, and when to stop turning because something else is wrong.
// Bring a reading within limits; never advise what may pass a ceiling, but for the first turn, of which nothing is
// known yet and which is therefore the smallest that a hand can make. Degrees, clockwise positive; readings in their
// unit. Not here: what is known of the trimmer (trimmer_model.hpp), prompts and measurements (the verb `adjust`). Pure.
#pragma once

#include <optional>
#include <string>

#include "core/guide/trimmer_model.hpp"

namespace eyelevel::guide {

// What the reading is to come to. A balance that is to be symmetric about zero is brought within limits about zero.
struct Aim {
  double least = 0;
  double most = 0;
  std::optional<double> ceiling = {};
  std::string unit = "V";
  double middle() const { return (least + most) / 2; }
};

// The reading as it stands.
struct Standing {
  double value = 0;
  double repeatability = 0;         // standard uncertainty without what all readings of this kind share
  double expanded_uncertainty = 0;  // as it is judged
};

// Why no further turn is advised.
struct Stop {
  std::string cause;    // "the level does not follow the trimmer"
  std::string because;  // what was seen
};

struct Advice {
  std::optional<Stop> stop;  // then nothing below counts
  double clockwise_deg = 0;
  std::string words;              // "anticlockwise by 18 degrees, about a twentieth of a turn"
  double belief = 0;              // that this way brings it nearer
  Predicted predicted;            // when it is done as asked
  double may_pass_ceiling = 0;    // probability
  bool last_did_nothing = false;  // the turn before changed nothing that can be seen
};

class Guide {
 public:
  Guide(Aim aim, const TrimmerPrior& prior) : aim_(std::move(aim)), model_(prior) {}

  // What a turn came to.
  void turned(double asked_deg, const Standing& before, const Standing& after);
  // From where it stands, which lies outside the limits or too near to one.
  Advice advise(const Standing& now) const;

  const TrimmerModel& model() const { return model_; }
  int turns() const { return turns_; }

 private:
  std::optional<Stop> stop(const Standing& now) const;
  double first_turn_deg(const Standing& now) const;
  std::optional<double> best_turn_deg(const Standing& now) const;
  double above(const Standing& now, double clockwise_deg) const;

  Aim aim_;
  TrimmerModel model_;
  int turns_ = 0;
  int turns_that_moved_ = 0;
  double farthest_deg_ = 0;  // the largest turn so far
  bool last_did_nothing_ = false;
};

}  // namespace eyelevel::guide
