// SPDX-License-Identifier: Apache-2.0
// What is known of how a reading answers to the laser trimmer, learnt turn by turn: which way raises it (sense), by how
// much a degree (steepness), how far the screw turns before the wiper follows (backlash), whether it follows at all,
// or only downwards because the laser's driver is at its limit, and whether the contact is good. A Bayesian grid over
// these; each turn of a hand comes out roughly, may go the wrong way or be forgotten, and the wiper lands a little
// differently each time. The light goes with 1/(fixed + track resistance), so that the reciprocal of the level is
// straight in the angle and a raise grows steeper as it goes. Figures of hand and trimmer: practice values. Not here:
// what to advise (advice.hpp). Pure; one object per trimmer; a turn costs some hundred thousand operations.
#pragma once

#include <vector>

namespace eyelevel::guide {

// How a reading grows with the angle.
enum class Growth {
  as_light,  // reciprocal straight in the angle: a level above zero
  evenly,    // straight: a balance, which may be zero
};

struct TrimmerPrior {
  double clockwise_raises = 0.5;  // probability
  Growth growth = Growth::as_light;
  double scale = 1;  // as_light: the level at which steepness is stated; evenly: the reading's span
};

// One turn, with the reading before and after. Degrees, clockwise positive; the rest in the reading's unit.
struct Turned {
  double asked_deg = 0;
  double before = 0;
  double after = 0;
  double uncertainty = 0;  // standard, of after - before, without what both share
};

struct Predicted {
  double expected = 0;
  double low = 0;  // 95 % of the outcomes lie between
  double high = 0;
};

// A hand's standard deviation about the turn it wants to make (practice values).
double hand_sd_deg(double asked_deg);

class TrimmerModel {
 public:
  explicit TrimmerModel(const TrimmerPrior& prior);

  // Throws nothing; readings that are not finite, or not above zero where they must be, are the caller's defect.
  void push(const Turned& turned);

  double clockwise_raises() const;   // belief, 0..1
  double follows() const;            // that the reading answers to the trimmer at all
  double is_at_limit() const;        // that it only falls: what raises it gives nothing more
  double contact_is_bad() const;     // that it jumps as the turns do not
  double steepness_per_deg() const;  // most likely, relative to the scale, at the scale

  // Outcomes of a turn that is done as asked, roughly as a hand does it.
  Predicted predict(double from, double asked_deg) const;
  // Probability that the reading then lies beyond `ceiling`. `uncertainty`: standard, of `from`.
  double above(double from, double uncertainty, double asked_deg, double ceiling) const;
  // How near it comes on average: 1 between these two, outside less with the distance in the width between.
  double nearness(double from, double asked_deg, double least, double most) const;

  double coordinate(double reading) const;  // straight in the angle
  double reading(double coordinate) const;

 private:
  enum class Kind { follows, does_not_follow, at_limit, bad_contact };
  struct Cell {
    Kind kind;
    bool clockwise_raises;
    double per_deg;  // of the coordinate
    double backlash_deg;
    int place;  // of the screw in its play, 0: the wiper follows an anticlockwise turn at once
    double weight;
  };
  struct Change {
    double expected;
    double sd;
  };
  struct Moved {
    double wiper_deg;  // clockwise positive
    double place;      // share of the play
  };
  static Change change_of(Kind kind, double asked_for, double measured);
  static Moved move(const Cell& cell, double screw_deg);
  double weight_of(Kind kind) const;
  template <class F>
  void outcomes(double from, double asked_deg, double lightest, F f) const;  // f(weight, coordinate)
  void step_kinds();
  void keep_weights(std::vector<double> weights);

  TrimmerPrior prior_;
  std::vector<Cell> cells_;  // places of one hypothesis stand together
};

}  // namespace eyelevel::guide
