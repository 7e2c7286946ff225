// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/observe.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>

#include "core/base/error.hpp"
#include "core/diagnosis/names.hpp"

using namespace eyelevel;
using namespace eyelevel::diagnosis;

namespace {

double agrees(const Observation& o, std::string_view value) {
  const auto found = find_value(evidences()[o.evidence], value);
  REQUIRE(found);
  return o.agrees[*found];
}

}  // namespace

TEST_CASE("observe: a reading far from any border is of one class", "[diagnosis]") {
  CHECK(agrees(observe("level", {1.00, 0.005}, Measured{1.20, 0.005}), "low") == Approx(1).margin(1e-6));
  CHECK(agrees(observe("level", {1.21, 0.005}, Measured{1.20, 0.005}), "ok") == Approx(1).margin(1e-6));
  CHECK(agrees(observe("level", {1.44, 0.005}, Measured{1.20, 0.005}), "high") == Approx(1).margin(1e-6));
  CHECK(agrees(observe("jitter", {33, 0.1}), "raised") == Approx(1).margin(1e-6));
  CHECK(agrees(observe("c1", {300, 3}), "bad") == Approx(1).margin(1e-6));
}

TEST_CASE("observe: on the border a reading is half of each", "[diagnosis]") {
  const Observation o = observe("level", {1.08, 0.01}, Measured{1.20, 0});
  CHECK(agrees(o, "low") == Approx(0.5).margin(1e-9));
  CHECK(agrees(o, "ok") == Approx(0.5).margin(1e-9));
}

TEST_CASE("observe: one standard uncertainty inside a border leaves 16 % for the other side", "[diagnosis]") {
  // Normal distribution: 1 - Phi(1) = 0.158655 (table of the standard normal).
  CHECK(agrees(observe("jitter", {27, 1}), "raised") == Approx(0.158655).margin(1e-6));
  // The reference's own uncertainty counts: hypot(0.03, 0.04) = 0.05 V, the border is one of it away (ratio near 1).
  const Observation o = observe("top", {1.0, 0.03}, Measured{1.0, 0.04});
  CHECK(agrees(o, "high") == Approx(1 - 0.5 * std::erfc(-0.10 / 0.05 / std::sqrt(2.0))).margin(1e-9));
}

TEST_CASE("observe: a level off by a probe's factor is wild, above and below", "[diagnosis]") {
  CHECK(agrees(observe("level", {12.0, 0.1}, Measured{1.2, 0.01}), "wild") == Approx(1));
  CHECK(agrees(observe("level", {0.12, 0.01}, Measured{1.2, 0.01}), "wild") == Approx(1));
  CHECK(agrees(observe("level", {2.4, 0.02}, Measured{1.2, 0.01}), "high") == Approx(1));
}

TEST_CASE("observe: asymmetry is off to both sides", "[diagnosis]") {
  CHECK(agrees(observe("asymmetry", {0.15, 0.001}, Measured{0.02, 0.001}), "off") == Approx(1));
  CHECK(agrees(observe("asymmetry", {-0.10, 0.001}, Measured{0.02, 0.001}), "off") == Approx(1));
  CHECK(agrees(observe("asymmetry", {0.05, 0.001}, Measured{0.02, 0.001}), "ok") == Approx(1));
}

TEST_CASE("observe: the classes of a reading share it between them", "[diagnosis]") {
  for (const double value : {0.2, 0.9, 1.05, 1.19, 1.32, 3.6, 12.0}) {
    const Observation o = observe("level", {value, 0.05}, Measured{1.2, 0.02});
    CHECK(std::accumulate(o.agrees.begin(), o.agrees.end(), 0.0) == Approx(1).margin(1e-12));
  }
}

TEST_CASE("observe: ripple with the turns comes before any other", "[diagnosis]") {
  CHECK(agrees(observe_ripple({0.05, 0.001}, Measured{0.05, 0.001}), "once") == Approx(1));
  CHECK(agrees(observe_ripple({0.01, 0.001}, Measured{0.05, 0.001}), "other") == Approx(1));
  CHECK(agrees(observe_ripple({0.01, 0.001}, Measured{0.01, 0.001}), "ok") == Approx(1));
}

TEST_CASE("observe: ripple beside the turns that nobody looked at tells nothing of it", "[diagnosis]") {
  const Observation o = observe_ripple({0.01, 0.001});
  CHECK(agrees(o, "ok") == agrees(o, "other"));
  CHECK(agrees(o, "once") == Approx(0).margin(1e-12));
}

TEST_CASE("observe: what makes no evidence is refused with what would", "[diagnosis]") {
  CHECK_THROWS_WITH(observe("level", {1.2, 0.01}), Catch::Contains("nothing says what level ought to be"));
  CHECK_THROWS_WITH(observe("level", {1.2, 0.01}, Measured{0, 0}), Catch::Contains("above zero"));
  CHECK_THROWS_WITH(observe("level", {NAN, 0.01}, Measured{1, 0}), Catch::Contains("finite"));
  CHECK_THROWS_WITH(observe("level", {1, -0.01}, Measured{1, 0}), Catch::Contains("not negative"));
  CHECK_THROWS_WITH(observe("discs", {1, 0}), Catch::Contains("not told by a number"));
  CHECK_THROWS_WITH(observe("taste", {1, 0}), Catch::Contains("'taste' is no evidence"));
  CHECK_THROWS_WITH(observe_told("discs", "many"), Catch::Contains("known are alike, one, pressed, weak"));
}
