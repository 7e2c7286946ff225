// SPDX-License-Identifier: Apache-2.0
// Frames are made of channel bits of core/disc's own encoder; the reading of independent signals is tested in
// analyse_test.cpp.
#include "core/disc/detail/frames.hpp"

#include <catch2/catch.hpp>

#include "core/disc/efm/code.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;

namespace {

// One sample to a channel bit, the lattice is given; the record begins at `cut`.
struct Made {
  clock::Edges edges;
  clock::Lattice lattice;
  std::size_t samples = 0;
};

Made make(int frames, double cut = 0) {
  const support::ChannelBits bits(frames, {});
  Made made;
  for (const double bit : bits.at()) {
    if (bit < cut) continue;
    made.edges.at.push_back(bit - cut);
    made.lattice.bit.push_back(static_cast<std::int32_t>(bit));
  }
  made.lattice.stretches = {{0, made.edges.size() - 1}};
  made.lattice.period = 1;
  made.samples = static_cast<std::size_t>(frames * efm::frame_bits - cut);
  return made;
}

void drop(Made& made, std::int64_t from, std::int64_t to) {
  Made kept;
  for (std::size_t k = 0; k < made.edges.size(); ++k) {
    if (made.lattice.bit[k] >= from && made.lattice.bit[k] < to) continue;
    kept.edges.at.push_back(made.edges.at[k]);
    kept.lattice.bit.push_back(made.lattice.bit[k]);
  }
  made.edges = kept.edges;
  made.lattice.bit = kept.lattice.bit;
  made.lattice.stretches = {{0, made.edges.size() - 1}};
}

void set_lengths(clock::Lattice& lattice) {
  lattice.length.assign(lattice.bit.size(), 0);
  for (std::size_t k = 0; k + 1 < lattice.bit.size(); ++k) {
    const std::int32_t bits = lattice.bit[k + 1] - lattice.bit[k];
    if (bits >= efm::run_min && bits <= efm::run_max) lattice.length[k] = static_cast<std::uint8_t>(bits);
  }
}

std::vector<detail::Frame> frames_of(Made made) {
  set_lengths(made.lattice);
  return detail::find_frames(made.edges, made.lattice, made.samples);
}

std::int64_t bridged(const std::vector<detail::Frame>& frames) {
  return std::count_if(frames.begin(), frames.end(), [](const detail::Frame& frame) { return frame.bridged; });
}

std::int64_t slipped(const std::vector<detail::Frame>& frames) {
  return std::count_if(frames.begin(), frames.end(), [](const detail::Frame& frame) { return frame.slipped; });
}

}  // namespace

TEST_CASE("frames: each one wholly inside is found, with its symbols", "[disc]") {
  const Made made = make(20, 100);
  const auto frames = frames_of(made);
  REQUIRE(frames.size() == 19);
  CHECK(slipped(frames) == 0);
  CHECK(bridged(frames) == 0);
  for (std::size_t i = 0; i < frames.size(); ++i) {
    const detail::Frame& f = frames[i];
    CHECK(f.number == static_cast<std::int64_t>(i));
    CHECK(f.start == Approx(588.0 * (static_cast<double>(i) + 1) - 100));
    CHECK(f.has_sync);
    CHECK(f.invalid == 0);
    CHECK((i == 0 ? f.control == efm::symbol_s1 : f.control >= 0 && f.control < 256));
  }
}

TEST_CASE("frames: the first two of a section carry S0 and S1", "[disc]") {
  const Made made = make(101);
  const auto frames = frames_of(made);
  REQUIRE(frames.size() == 101);
  CHECK(frames[0].control == efm::symbol_s0);
  CHECK(frames[1].control == efm::symbol_s1);
  CHECK(frames[98].control == efm::symbol_s0);
  CHECK(frames[99].control == efm::symbol_s1);
}

TEST_CASE("frames: a missing sync is bridged, two in a row are a loss", "[disc]") {
  Made made = make(20);
  drop(made, 5 * 588 + 5, 5 * 588 + 30);
  auto frames = frames_of(made);
  CHECK(frames.size() == 20);
  CHECK(slipped(frames) == 0);
  CHECK(bridged(frames) == 1);
  CHECK_FALSE(frames[5].has_sync);

  drop(made, 6 * 588 + 5, 6 * 588 + 30);
  frames = frames_of(made);
  CHECK(frames.size() == 20);
  CHECK(slipped(frames) == 1);
}

TEST_CASE("frames: a slip of the clock is a loss, and frames after it are right again", "[disc]") {
  Made made = make(20);
  for (std::size_t k = 0; k < made.edges.size(); ++k) {
    if (made.lattice.bit[k] > 10 * 588 + 300) made.lattice.bit[k] += 1;
  }
  const auto frames = frames_of(made);
  CHECK(frames.size() == 20);
  CHECK(slipped(frames) == 1);
  for (std::size_t i = 0; i < frames.size(); ++i) {
    CHECK(frames[i].number == static_cast<std::int64_t>(i));
    if (i != 10) CHECK(frames[i].invalid == 0);
  }
}

TEST_CASE("frames: a gap that the code cannot repair leaves numbers out", "[disc]") {
  Made made = make(60);
  drop(made, 20 * 588 + 100, 40 * 588 - 100);
  const auto frames = frames_of(made);
  CHECK(slipped(frames) == 1);
  CHECK(frames.size() == 41);
  CHECK(frames[20].number == 20);
  CHECK(frames[21].number == 40);
}

TEST_CASE("frames: two runs of 11T that fit no other sync are no sync", "[disc]") {
  Made made = make(20);
  // Bend three edges in the middle of a frame so that they look like one.
  std::size_t k = 0;
  while (made.lattice.bit[k] < 8 * 588 + 200) ++k;
  const std::int32_t bit = made.lattice.bit[k];
  drop(made, bit + 1, bit + 33);
  for (const std::int32_t at : {bit + 11, bit + 22}) {
    const auto place = std::lower_bound(made.lattice.bit.begin(), made.lattice.bit.end(), at);
    const auto index = place - made.lattice.bit.begin();
    made.edges.at.insert(made.edges.at.begin() + index, static_cast<double>(at));
    made.lattice.bit.insert(place, at);
  }
  made.lattice.stretches = {{0, made.edges.size() - 1}};
  set_lengths(made.lattice);
  CHECK(clock::find_syncs(made.lattice, made.lattice.stretches.front()).size() == 21);
  const auto frames = frames_of(made);
  CHECK(frames.size() == 20);
  CHECK(slipped(frames) == 0);
}

TEST_CASE("frames: without a clock there are none", "[disc]") { CHECK(detail::find_frames({}, {}, 1000).empty()); }
