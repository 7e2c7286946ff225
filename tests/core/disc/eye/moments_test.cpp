// SPDX-License-Identifier: Apache-2.0
// Truth: NIST StRD's device for summary statistics, values that differ in their last digits only: 10000000.2 and
// 10000000.1 and 10000000.3 in turn (NumAcc4: 1001 values, mean 10000000.2, standard deviation 0.1).
#include "core/disc/eye/moments.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace eyelevel::disc;

TEST_CASE("moments: the scatter of values that differ in their last digits is kept", "[disc]") {
  eye::Moments moments;
  moments.add(10000000.2);
  for (int i = 0; i < 500; ++i) {
    moments.add(10000000.1);
    moments.add(10000000.3);
  }
  CHECK(moments.count() == 1001);
  CHECK(moments.mean() == Approx(10000000.2).epsilon(1e-15));
  CHECK(std::sqrt(moments.scatter() / 1000) == Approx(0.1).epsilon(1e-8));
}

TEST_CASE("moments: nothing has mean and scatter zero", "[disc]") {
  CHECK(eye::Moments().mean() == 0);
  CHECK(eye::Moments().scatter() == 0);
}
