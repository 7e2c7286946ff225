// SPDX-License-Identifier: Apache-2.0
// Edges here are made straight from channel bits, without samples: positions and jitter are known exactly.
#include "core/disc/clock/loop.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <vector>

#include "core/base/random.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

constexpr double period = 4.6277;

struct Made {
  clock::Edges edges;
  std::vector<int> bits;  // true channel bit of each edge
};

Made make(double jitter_t, double late_t) {
  const support::ChannelBits bits(61, {});
  base::Random random(5, "jitter");
  Made made;
  for (std::size_t k = 0; k < bits.at().size(); ++k) {
    const double bit = bits.at()[k], late = k % 2 == 0 ? late_t : -late_t;
    made.bits.push_back(static_cast<int>(bit));
    // The disc turns a little faster and slower, 30 times a second.
    const double drift = 8 * std::sin(bit * 4.4e-5);
    made.edges.at.push_back(50 + period * (bit + drift + late + random.normal(0, jitter_t)));
  }
  return made;
}

struct Followed {
  clock::Anchor anchor;
  clock::Stretch stretch;
  clock::Lattice lattice;
};

Followed follow(const clock::Edges& edges) {
  Followed out;
  const auto anchor = clock::find_anchor(edges.at, edges.size() / 2, edges.size());
  REQUIRE(anchor);
  out.anchor = *anchor;
  out.lattice.bit.resize(edges.size());
  out.lattice.late.resize(edges.size());
  out.lattice.length.resize(edges.size());
  out.stretch = clock::follow(edges, *anchor, 0, edges.size() - 1, out.lattice);
  return out;
}

// Lateness of edges by the loop as it stands in textbooks, one edge after the other; `bits` are known beforehand.
std::vector<double> plain_lateness(const Made& made, const clock::Anchor& anchor, int way) {
  double phase = made.edges.at[anchor.edge], t = anchor.period, shift = 0;
  std::vector<double> late;
  for (std::size_t k = anchor.edge + static_cast<std::size_t>(way); k < made.bits.size();
       k += static_cast<std::size_t>(way)) {
    const double sign = k % 2 == 0 ? 1 : -1;
    phase += t * (made.bits[k] - made.bits[k - static_cast<std::size_t>(way)]);
    const double error = made.edges.at[k] - sign * shift - phase;
    late.push_back(error / t);
    phase += clock::slow_gain * error;
    t += way * clock::period_gain * error;
    shift += sign * clock::shift_gain * error;
  }
  return late;
}

std::size_t misplaced(const Made& made, const Followed& found) {
  std::size_t wrong = 0;
  const int base = made.bits[found.anchor.edge];
  for (std::size_t k = 0; k < made.bits.size(); ++k) wrong += made.bits[k] - base != found.lattice.bit[k] ? 1 : 0;
  return wrong;
}

}  // namespace

TEST_CASE("loop: both ways to the ends it says of each edge what the plain loop says", "[disc]") {
  const Made made = make(0.05, 0.1);
  const Followed found = follow(made.edges);
  CHECK(found.stretch.first == 0);
  CHECK(found.stretch.last == made.bits.size() - 1);
  CHECK(misplaced(made, found) == 0);
  for (const int way : {1, -1}) {
    const std::vector<double> plain = plain_lateness(made, found.anchor, way);
    // What both begin with otherwise is forgotten e-fold in a hundred edges: e^-20.
    constexpr std::size_t settled = 2000;
    REQUIRE(plain.size() > settled + 1000);
    double worst = 0;
    for (std::size_t i = settled; i < plain.size(); ++i) {
      const std::size_t k = found.anchor.edge + static_cast<std::size_t>(way) * (i + 1);
      worst = std::max(worst, std::abs(plain[i] - static_cast<double>(found.lattice.late[k])));
    }
    INFO(worst);
    CHECK(worst < 2e-5);  // of 0.2 T at most: floats, and the period that late is told in may be 32 edges old
  }
}

TEST_CASE("loop: lengths are those of the runs", "[disc]") {
  const Made made = make(0.05, 0);
  const Followed found = follow(made.edges);
  for (std::size_t k = 0; k + 1 < made.bits.size(); ++k) {
    REQUIRE(static_cast<int>(found.lattice.length[k]) == made.bits[k + 1] - made.bits[k]);
  }
}

TEST_CASE("loop: a run of 259T is not taken for one of 3T, ahead or back", "[disc]") {
  for (const bool ahead : {true, false}) {
    Made made = make(0.03, 0);
    std::size_t k = ahead ? made.bits.size() * 4 / 5 : made.bits.size() / 5;
    while (made.bits[k + 1] - made.bits[k] != 3) ++k;
    for (std::size_t later = k + 1; later < made.bits.size(); ++later) {
      made.bits[later] += 256;
      made.edges.at[later] += 256 * period;
    }
    const Followed found = follow(made.edges);
    CHECK(static_cast<int>(found.lattice.length[k]) == 255);  // as far as a byte goes
    CHECK(misplaced(made, found) == 0);
  }
}
