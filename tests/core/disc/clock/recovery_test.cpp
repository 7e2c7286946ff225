// SPDX-License-Identifier: Apache-2.0
// Edges here are made straight from channel bits, without samples: positions, jitter and gaps are known exactly.
#include "core/disc/clock/recovery.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "core/base/random.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

struct Made {
  clock::Edges edges;
  std::vector<double> bits;  // true channel bit of each edge
};

// `period` samples to a bit, rising edges late by `late_t`, jitter in channel bits; edges with dropped(bit) are left
// out in pairs, so that polarity stays in turn.
template <class Dropped>
Made make(double period, double jitter_t, double late_t, Dropped dropped, int frames = 40) {
  const support::ChannelBits bits(frames, {});
  base::Random random(2, "jitter");
  Made made;
  for (std::size_t k = 0; k + 1 < bits.at().size(); k += 2) {
    if (dropped(bits.at()[k]) || dropped(bits.at()[k + 1])) continue;
    for (std::size_t j = k; j < k + 2; ++j) {
      const double late = j == k ? late_t : -late_t;
      made.edges.at.push_back(50 + period * (bits.at()[j] + late + random.normal(0, jitter_t)));
      made.bits.push_back(bits.at()[j]);
    }
  }
  return made;
}

const auto none = [](double) { return false; };

// Numbered edges that lie otherwise than the first numbered one says.
std::size_t misplaced(const Made& made, const clock::Lattice& lattice, const clock::Stretch& s) {
  std::size_t wrong = 0;
  const double base = made.bits[s.first] - static_cast<double>(lattice.bit[s.first]);
  for (std::size_t k = s.first; k <= s.last; ++k) {
    wrong += made.bits[k] - static_cast<double>(lattice.bit[k]) != base ? 1 : 0;
  }
  return wrong;
}

}  // namespace

TEST_CASE("clock: any number of samples to a channel bit is found blind", "[disc]") {
  for (const double period : {1.8, 1.851, 2.3137, 4.6277, 5.785, 23.14, 249.3}) {
    const Made made = make(period, 0.05, 0, none);
    const auto anchor = clock::find_anchor(made.edges.at, 0, made.edges.size());
    INFO(period);
    REQUIRE(anchor);
    CHECK(anchor->edge == 0);
    CHECK(anchor->period == Approx(period).epsilon(5e-4));  // jitter of two edges over 588 T: 1.2e-4
    const clock::Lattice lattice = clock::recover(made.edges);
    REQUIRE(lattice.stretches.size() == 1);
    CHECK(lattice.stretches[0].first == 0);
    CHECK(lattice.stretches[0].last == made.edges.size() - 1);
    CHECK(misplaced(made, lattice, lattice.stretches[0]) == 0);
    CHECK(lattice.period == Approx(period).epsilon(1e-5));
  }
}

TEST_CASE("clock: a level that is off by a third of a channel bit does not disturb it", "[disc]") {
  for (const double late_t : {-0.33, 0.33}) {
    const Made made = make(4.6277, 0.05, late_t, none);
    const clock::Lattice lattice = clock::recover(made.edges);
    REQUIRE(lattice.stretches.size() == 1);
    CHECK(misplaced(made, lattice, lattice.stretches[0]) == 0);
  }
}

TEST_CASE("clock: a run of 3T that came as 2T is mended at the edge that lies further off", "[disc]") {
  for (const bool first_edge : {true, false}) {
    Made made = make(4.6277, 0.01, 0, none);
    std::size_t k = 1000;
    while (made.bits[k + 1] - made.bits[k] != 3) ++k;
    // 0.55 T towards the other edge: nearer to the wrong channel bit, and 2.45 T long.
    made.edges.at[first_edge ? k : k + 1] += (first_edge ? 0.55 : -0.55) * 4.6277;
    const clock::Lattice lattice = clock::recover(made.edges);
    REQUIRE(lattice.stretches.size() == 1);
    CHECK(misplaced(made, lattice, lattice.stretches[0]) == 0);
  }
}

TEST_CASE("clock: a run of 11T that came as 12T is mended, too", "[disc]") {
  Made made = make(4.6277, 0.01, 0, none);
  std::size_t k = 1000;
  while (made.bits[k + 1] - made.bits[k] != 11) ++k;
  made.edges.at[k] -= 0.55 * 4.6277;
  const clock::Lattice lattice = clock::recover(made.edges);
  REQUIRE(lattice.stretches.size() == 1);
  CHECK(misplaced(made, lattice, lattice.stretches[0]) == 0);
}

TEST_CASE("clock: a gap of two frames is bridged without losing a channel bit", "[disc]") {
  const Made made = make(4.6277, 0.04, 0, [](double bit) { return bit > 9000 && bit < 10100; });
  const clock::Lattice lattice = clock::recover(made.edges);
  REQUIRE(lattice.stretches.size() == 1);
  CHECK(misplaced(made, lattice, lattice.stretches[0]) == 0);
}

TEST_CASE("clock: after a long stretch of nonsense it is found again", "[disc]") {
  // Noise edges instead of a third of the record: 3000 of them, a tenth of a channel bit to two bits apart.
  Made made = make(4.6277, 0.04, 0, [](double bit) { return bit > 8000 && bit < 16000; });
  const std::size_t hole = static_cast<std::size_t>(
      std::find_if(made.bits.begin(), made.bits.end(), [](double b) { return b >= 16000; }) - made.bits.begin());
  base::Random random(9, "nonsense");
  std::vector<double> nonsense;
  for (double t = made.edges.at[hole - 1] + 1; t < made.edges.at[hole] - 10; t += random.uniform(0.5, 9))
    nonsense.push_back(t);
  if (nonsense.size() % 2 != 0) nonsense.pop_back();
  made.edges.at.insert(made.edges.at.begin() + static_cast<std::ptrdiff_t>(hole), nonsense.begin(), nonsense.end());
  made.bits.insert(made.bits.begin() + static_cast<std::ptrdiff_t>(hole), nonsense.size(), 0.0);
  const clock::Lattice lattice = clock::recover(made.edges);
  REQUIRE(lattice.stretches.size() == 2);
  const clock::Stretch last = lattice.stretches[1];
  CHECK(last.last == made.edges.size() - 1);
  // From two frames after the nonsense on, all is numbered without a slip.
  std::size_t k = hole + nonsense.size();
  while (made.bits[k] < 17200) ++k;
  CHECK(misplaced(made, lattice, {k, last.last}) == 0);
  // Frames keep their numbers over the gap, to the nearest frame.
  const double before = made.bits[10] - static_cast<double>(lattice.bit[10]);
  const double after = made.bits[last.last] - static_cast<double>(lattice.bit[last.last]);
  CHECK(std::abs(after - before) < 100);
}

TEST_CASE("clock: edges at random or at even distances are no clock", "[disc]") {
  base::Random random(4, "edges");
  clock::Edges chance, even;
  double t = 0;
  for (int i = 0; i < 20000; ++i) {
    chance.at.push_back(t += random.uniform(3, 11));
    even.at.push_back(11.0 * i);
  }
  CHECK_FALSE(clock::recover(chance).found());
  CHECK_FALSE(clock::recover(even).found());
  CHECK_FALSE(clock::recover({}).found());
}
