// SPDX-License-Identifier: Apache-2.0
#include "core/guide/trimmer_model.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::guide;

namespace {

TrimmerPrior unknown() { return {0.5, Growth::as_light, 1.2}; }

// As a trimmer of this steepness without play would have it.
Turned turn(double asked_deg, double before, double per_deg) {
  return {asked_deg, before, 1.2 / (1.2 / before - asked_deg * per_deg), 0.003};
}

}  // namespace

TEST_CASE("trimmer model: before the first turn it believes of the sense what it was told") {
  CHECK(TrimmerModel(unknown()).clockwise_raises() == Approx(0.5));
  CHECK(TrimmerModel({0.9, Growth::as_light, 1.2}).clockwise_raises() == Approx(0.9));
}

TEST_CASE("trimmer model: one clear turn tells the sense, but for hands that went the wrong way") {
  TrimmerModel model(unknown());
  model.push(turn(4, 1.0, -0.01));
  CHECK(model.clockwise_raises() < 0.1);
  CHECK(model.clockwise_raises() > 0.005);
  model.push(turn(-6, 0.96, -0.01));
  CHECK(model.clockwise_raises() < 0.01);
}

TEST_CASE("trimmer model: it learns the steepness to what a hand's error leaves") {
  for (const double per_deg : {0.004, 0.01, 0.025}) {
    TrimmerModel model(unknown());
    double level = 0.95;
    for (const double asked : {4.0, 5.0, 6.0}) {
      const Turned one = turn(asked, level, per_deg);
      model.push(one);
      level = one.after;
    }
    CHECK(model.steepness_per_deg() / per_deg == Approx(1).epsilon(0.5));
  }
}

TEST_CASE("trimmer model: turns that change nothing lead it to believe that the reading does not follow") {
  TrimmerModel model(unknown());
  CHECK(model.follows() > 0.9);
  for (const double asked : {4.0, 8.0, 16.0, 30.0}) model.push({asked, 0.8, 0.801, 0.003});
  CHECK(model.follows() < 0.05);
}

TEST_CASE("trimmer model: one turn that changes nothing is no proof of anything") {
  TrimmerModel model(unknown());
  model.push({4, 0.8, 0.801, 0.003});
  CHECK(model.follows() > 0.8);
  CHECK(model.clockwise_raises() == Approx(0.5).margin(0.1));
}

TEST_CASE("trimmer model: turned up nothing but the drift of a warming laser, turned down it falls: at the limit") {
  TrimmerModel model({0.95, Growth::as_light, 1.2});
  model.push({5, 0.781, 0.769, 0.003});
  model.push({10, 0.769, 0.754, 0.003});
  model.push({-20, 0.754, 0.739, 0.003});
  model.push({20, 0.739, 0.737, 0.003});
  CHECK(model.is_at_limit() > 0.9);
  CHECK(model.contact_is_bad() < 0.05);
}

TEST_CASE("trimmer model: a level that rises is not at the limit") {
  TrimmerModel model({0.95, Growth::as_light, 1.2});
  model.push(turn(5, 0.8, 0.01));
  CHECK(model.is_at_limit() < 0.01);
}

TEST_CASE("trimmer model: jumps to and fro under turns of one way are a bad contact") {
  TrimmerModel model(unknown());
  double level = 1.0;
  for (const double next : {1.12, 0.95, 1.15, 0.9, 1.1}) {
    model.push({4, level, next, 0.003});
    level = next;
  }
  CHECK(model.contact_is_bad() > 0.95);
}

TEST_CASE("trimmer model: what may pass a ceiling grows with the turn and is next to nothing the other way") {
  TrimmerModel model({1.0, Growth::as_light, 1.2});
  model.push(turn(4, 1.0, 0.02));
  const double level = 1.08;
  CHECK(model.above(level, 0.003, 3, 1.45) < model.above(level, 0.003, 6, 1.45));
  CHECK(model.above(level, 0.003, 6, 1.45) < model.above(level, 0.003, 20, 1.45));
  CHECK(model.above(level, 0.003, 20, 1.45) > 0.5);
  CHECK(model.above(level, 0.003, -20, 1.45) < 1e-6);
}

TEST_CASE("trimmer model: a prediction holds what a turn as asked comes to") {
  TrimmerModel model({1.0, Growth::as_light, 1.2});
  model.push(turn(4, 0.9, 0.01));
  model.push(turn(4, 0.93, 0.01));
  const Predicted predicted = model.predict(0.96, 10);
  const double truth = turn(10, 0.96, 0.01).after;
  CHECK(predicted.low < truth);
  CHECK(predicted.high > truth);
  CHECK(predicted.low < predicted.expected);
  CHECK(predicted.expected < predicted.high);
}

TEST_CASE("trimmer model: a balance goes evenly through zero") {
  TrimmerModel model({0.5, Growth::evenly, 1});
  CHECK(model.coordinate(0) == 0);
  CHECK(model.reading(model.coordinate(-0.2)) == Approx(-0.2));
  model.push({4, -0.05, 0.03, 0.005});
  CHECK(model.clockwise_raises() > 0.9);
}
