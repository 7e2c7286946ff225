// SPDX-License-Identifier: Apache-2.0
#include "core/disc/eye/runs.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::disc;

namespace {

// Edges with the given run lengths, ten samples to a channel bit; blocks of 64 samples, all open.
struct Made {
  clock::Edges edges;
  clock::Lattice lattice;
  clock::LocalClock local;
  clock::Survey survey;
};

Made make(const std::vector<int>& lengths) {
  Made made;
  std::int32_t bit = 1;
  made.edges.at = {10.0};
  made.lattice.bit = {bit};
  for (const int n : lengths) {
    bit += n;
    made.edges.at.push_back(10.0 * static_cast<double>(bit));
    made.lattice.bit.push_back(bit);
    made.lattice.length.push_back(n >= 3 && n <= 11 ? static_cast<std::uint8_t>(n) : std::uint8_t{0});
  }
  made.lattice.stretches = {{0, lengths.size()}};
  made.lattice.period = 10;
  made.lattice.length.push_back(0);
  made.lattice.late.assign(made.edges.size(), 0.0F);
  made.edges.level.assign(made.edges.size(), 0.5F);
  made.local.periods.assign(1 + made.edges.size() / clock::LocalClock::edges_each, 10.0);
  made.survey.samples = static_cast<std::size_t>(10 * bit + 100);
  made.survey.block_dimmed.assign(made.survey.samples / 64 + 1, 0);
  return made;
}

std::vector<eye::Run> runs_of(const Made& made) {
  eye::UsableRuns reader(made.edges, made.lattice, made.local, made.survey, 0,
                         static_cast<double>(made.survey.samples));
  std::vector<eye::Run> runs;
  for (auto some = reader.next(); some.size() > 0; some = reader.next()) {
    for (std::size_t k = 0; k < some.size(); ++k) {
      if (some.length[k] != 0) runs.push_back(some[k]);
    }
  }
  return runs;
}

}  // namespace

TEST_CASE("runs: all of a clean record are usable, with length, polarity and middle", "[disc]") {
  const auto runs = runs_of(make({3, 11, 5}));
  REQUIRE(runs.size() == 3);
  CHECK(runs[0].length == 3);
  CHECK(runs[0].high);
  CHECK(runs[1].length == 11);
  CHECK_FALSE(runs[1].high);
  CHECK(runs[1].middle() == Approx(40 + 55));
  CHECK(runs[2].level == 0.5);
}

TEST_CASE("runs: one of no legal length spoils itself and its neighbours", "[disc]") {
  const auto runs = runs_of(make({4, 5, 2, 6, 7, 12, 8, 9}));
  REQUIRE(runs.size() == 2);
  CHECK(runs[0].length == 4);
  CHECK(runs[1].length == 9);
}

TEST_CASE("runs: what touches a dimmed block is not used", "[disc]") {
  Made made = make(std::vector<int>(20, 8));
  made.survey.block_dimmed[10] = 1;  // samples 640 to 703
  for (const eye::Run& run : runs_of(made)) CHECK((run.end < 640 || run.start >= 704));
  CHECK(runs_of(made).size() == 18);
}

TEST_CASE("runs: without a clock there are none", "[disc]") {
  Made made = make({3, 4, 5});
  made.lattice.stretches.clear();
  CHECK(runs_of(made).empty());
}
