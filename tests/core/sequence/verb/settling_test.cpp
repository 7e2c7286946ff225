// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/settling.hpp"

#include <catch2/catch.hpp>

#include "core/base/random.hpp"

using namespace eyelevel;

namespace {

disc::Analysis capture(double ratio, double level_v = 1.2) {
  disc::Analysis a;
  a.has_eye = true;
  a.locked_share = 1;
  a.level.peak_to_peak_v = level_v;
  a.i3_over_i11 = ratio;
  return a;
}

}  // namespace

TEST_CASE("settling: unlocked and clipped captures are not kept, whatever their level", "[sequence]") {
  sequence::Settling settling;
  settling.push(capture(0.5));
  auto loose = capture(0.5);
  loose.locked_share = 0.5;
  settling.push(loose);
  settling.push({});
  auto clipped = capture(0.5);
  clipped.clipped_share = 0.01;
  settling.push(clipped);
  CHECK(settling.reasons() == std::vector<std::string_view>{"", "no lock", "no lock", "clipped"});
  CHECK(settling.kept() == 1);
}

TEST_CASE("settling: a few cut peaks of the noise do not make a capture a clipped one", "[sequence]") {
  sequence::Settling settling;
  auto touched = capture(0.5);
  touched.clipped_share = 0.002;  // the plateaus of 11T at one end alone are some 5 % of the samples
  settling.push(touched);
  CHECK(settling.kept() == 1);
}

TEST_CASE("settling: the level never decides: the same I3/I11 is kept at any level", "[sequence]") {
  sequence::Settling settling;
  base::Random random(1, "settling");
  for (int i = 0; i < 64; ++i) settling.push(capture(0.5 + random.normal(0, 0.004), random.uniform(0.2, 3)));
  CHECK(settling.kept() == 64);
}

TEST_CASE("settling: moments out of focus are not kept, nor does a whole series of them hide them", "[sequence]") {
  base::Random random(2, "settling");
  sequence::Settling few, many;
  for (int i = 0; i < 60; ++i) few.push(capture((i % 10 == 0 ? 0.40 : 0.50) + random.normal(0, 0.004)));
  CHECK(few.kept() == 54);
  for (int i = 0; i < 60; ++i) many.push(capture((i % 2 == 0 ? 0.38 : 0.50) + random.normal(0, 0.004)));
  CHECK(many.kept() == 30);
}

TEST_CASE("settling: a first capture out of focus is found when better ones have come", "[sequence]") {
  sequence::Settling settling;
  settling.push(capture(0.35));
  CHECK(settling.kept() == 1);  // nothing to compare it with
  for (int i = 0; i < 10; ++i) settling.push(capture(0.5));
  CHECK(settling.reasons().front() == "focus");
}

TEST_CASE("settling: normal scatter costs at most one capture in fifty", "[sequence]") {
  base::Random random(3, "settling");
  sequence::Settling settling;
  for (int i = 0; i < 500; ++i) settling.push(capture(0.5 + random.normal(0, 0.01)));
  CHECK(settling.kept() >= 490);
}

TEST_CASE("settling: an eye without I3/I11 is out of focus", "[sequence]") {
  sequence::Settling settling;
  auto none = capture(0.5);
  none.i3_over_i11.reset();
  settling.push(none);
  CHECK(settling.reasons() == std::vector<std::string_view>{"focus"});
}
