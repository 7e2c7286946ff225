// SPDX-License-Identifier: Apache-2.0
// Frames are 100 samples long here; windows have cores of 1000 samples and see 200 more to either side.
#include "core/disc/window/frame_chain.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::disc;

namespace {

constexpr double frame_samples = 100;

window::Place place_of(std::size_t i) {
  const std::size_t from = 1000 * i;
  return {from == 0 ? 0 : from - 200, {from, from + 1000}};
}

// Frames that begin at 0, 100, ... of the record, as window i sees them, each off by `off` samples.
window::WindowFrames frames_of(std::size_t i, double off) {
  const window::Place place = place_of(i);
  window::WindowFrames frames{{}, frame_samples};
  for (std::size_t start = place.start; start + 100 <= place.core.to + 200; start += 100) {
    detail::Frame frame;
    frame.number = static_cast<std::int64_t>(frames.list.size());
    frame.start = static_cast<double>(start - place.start) + off;
    if (frame.start >= 0) frames.list.push_back(frame);
  }
  return frames;
}

}  // namespace

TEST_CASE("frame chain: each frame counts once, wherever two windows see it", "[disc]") {
  // Off by parts of a sample, so that a frame that begins with a core is seen on either side of its border.
  for (const double first : {-0.3, 0.0, 0.3}) {
    for (const double second : {-0.3, 0.0, 0.3}) {
      CAPTURE(first, second);
      window::FrameChain chain(1e6, {});
      chain.take(frames_of(0, first), place_of(0));
      chain.take(frames_of(1, second), place_of(1));
      chain.take(frames_of(2, first), place_of(2));
      CHECK(chain.frames() == 30);
      CHECK(chain.sync_lost() == 0);
      CHECK(chain.decoded().c1.words == chain.frames() - 1);
    }
  }
}

TEST_CASE("frame chain: frames that no window saw are a loss, and numbers go on by time", "[disc]") {
  window::FrameChain chain(1e6, {});
  chain.take(frames_of(0, 0), place_of(0));
  chain.take({}, place_of(1));
  chain.take(frames_of(2, 0), place_of(2));
  CHECK(chain.frames() == 10 + 2 + 10);  // the third sees two frames of the second
  CHECK(chain.sync_lost() == 1);
  CHECK(chain.decoded().c1.words == 9 + 11);  // a word takes symbols of two frames in a row
}

TEST_CASE("frame chain: a loss that a window saw in its own part counts once", "[disc]") {
  window::FrameChain chain(1e6, {});
  auto first = frames_of(0, 0), second = frames_of(1, 0);
  first.list[11].slipped = true;  // at 1100: in the second core
  second.list[3].slipped = true;  // the same
  second.list[8].bridged = true;
  chain.take(first, place_of(0));
  chain.take(second, place_of(1));
  CHECK(chain.sync_lost() == 1);
  CHECK(chain.syncs_missed() == 1);
}
