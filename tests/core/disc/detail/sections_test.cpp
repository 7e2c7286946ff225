// SPDX-License-Identifier: Apache-2.0
#include "core/disc/detail/sections.hpp"

#include <catch2/catch.hpp>

#include "core/disc/efm/code.hpp"
#include "core/disc/subcode/q.hpp"

using namespace eyelevel::disc;

namespace {

subcode::QBytes q_of_section(int section, int control) {
  subcode::ProgramPosition position;
  position.control = control;
  position.track = 7;
  position.relative = subcode::time_of(100 + section);
  position.absolute = subcode::time_of(9000 + section);
  return subcode::build_program_q(position);
}

// Frames from `first` on, counted from the beginning of section 0; 100 samples each.
std::vector<detail::Frame> frames_from(int first, int count, int control = 0) {
  std::vector<detail::Frame> frames;
  for (int n = 0; n < count; ++n) {
    detail::Frame frame;
    const int place = (first + n) % efm::section_frames, section = (first + n) / efm::section_frames;
    frame.number = n;
    frame.start = 100.0 * n;
    frame.has_sync = true;
    frame.control = place == 0   ? efm::symbol_s0
                    : place == 1 ? efm::symbol_s1
                                 : subcode::control_byte(q_of_section(section, control), false, place);
    frames.push_back(frame);
  }
  return frames;
}

detail::SectionReader read(const std::vector<detail::Frame>& frames) {
  detail::SectionReader reader(1000);
  for (const detail::Frame& frame : frames) reader.take(frame);
  return reader;
}

std::vector<QBlock> blocks_of(const std::vector<detail::Frame>& frames) { return read(frames).blocks(); }

}  // namespace

TEST_CASE("sections: only those wholly inside are given, in order and with their place in the record", "[disc]") {
  const auto blocks = blocks_of(frames_from(50, 3 * 98));
  REQUIRE(blocks.size() == 2);
  for (std::size_t i = 0; i < 2; ++i) {
    CHECK(blocks[i].crc);
    CHECK(blocks[i].track == 7);
    CHECK(*blocks[i].absolute == subcode::time_of(9001 + static_cast<int>(i)));
    CHECK(blocks[i].start_s == Approx((48 + 98 * static_cast<double>(i)) * 0.1));
  }
}

TEST_CASE("sections: exactly 98 frames are one section, 97 are none", "[disc]") {
  CHECK(blocks_of(frames_from(0, 98)).size() == 1);
  CHECK(blocks_of(frames_from(0, 97)).empty());
  CHECK(blocks_of(frames_from(1, 98)).empty());
  CHECK(blocks_of({}).empty());
}

TEST_CASE("sections: one whose S0 is damaged is found from its neighbours", "[disc]") {
  for (const std::size_t damaged : {0U, 98U, 196U}) {
    std::vector<detail::Frame> frames = frames_from(0, 3 * 98);
    frames[damaged].control = efm::symbol_invalid;
    const auto blocks = blocks_of(frames);
    REQUIRE(blocks.size() == 3);
    for (const QBlock& block : blocks) CHECK(block.crc);
  }
}

TEST_CASE("sections: a damaged Q bit gives a block without content", "[disc]") {
  std::vector<detail::Frame> frames = frames_from(0, 2 * 98);
  frames[40].control ^= 0x40;
  const auto blocks = blocks_of(frames);
  REQUIRE(blocks.size() == 2);
  CHECK_FALSE(blocks[0].crc);
  CHECK(blocks[0].track == 0);
  CHECK_FALSE(blocks[0].absolute);
  CHECK(blocks[1].crc);
}

TEST_CASE("sections: of one with hardly a frame nothing is said, numbers go on behind the gap", "[disc]") {
  std::vector<detail::Frame> frames = frames_from(0, 4 * 98);
  std::erase_if(frames, [](const detail::Frame& f) { return f.number > 100 && f.number < 190; });
  const auto blocks = blocks_of(frames);
  REQUIRE(blocks.size() == 3);
  CHECK(*blocks[1].absolute == subcode::time_of(9002));
}

TEST_CASE("sections: content is audio or data by CONTROL, unknown without a good block", "[disc]") {
  CHECK(read(frames_from(0, 200, 0)).content() == Content::audio);
  CHECK(read(frames_from(0, 200, 2)).content() == Content::audio);
  CHECK(read(frames_from(0, 200, 4)).content() == Content::data);
  CHECK(read({}).content() == Content::unknown);
  std::vector<detail::Frame> damaged = frames_from(0, 98);
  damaged[40].control ^= 0x40;
  CHECK(read(damaged).content() == Content::unknown);
}

TEST_CASE("sections: of a long record the first ones are listed, and all of them count", "[disc]") {
  constexpr int sections = static_cast<int>(listed_most) + 20;
  detail::SectionReader reader(1000);
  for (int first = 0; first < sections; ++first) {
    // The last ones are a lead-in, which says where track 3 begins, with pre-emphasis.
    for (detail::Frame frame : frames_from(98 * first, 98)) {
      frame.number += 98 * std::int64_t{first};
      if (first >= sections - 5 && frame.control < 256) {
        const auto item =
            subcode::build_contents_q({.control = 1, .point = 3, .running = {0, 1, 0}, .p_time = {9, 59, 74}});
        frame.control = subcode::control_byte(item, false, static_cast<int>(frame.number % 98));
      }
      reader.take(frame);
    }
  }
  CHECK(reader.blocks().size() == listed_most);
  CHECK(reader.count() == sections);
  CHECK(reader.readable() == sections);
  CHECK(reader.pre_emphasis());
  CHECK(reader.content() == Content::audio);
  const auto contents = reader.contents();
  REQUIRE(contents);
  CHECK_FALSE(contents->complete);
  REQUIRE(contents->tracks.contains(3));
  CHECK(contents->tracks.at(3).start == MinSecFrame{9, 59, 74});
}

TEST_CASE("sections: outside the lead-in there is no table of contents and, unless it is said, no pre-emphasis",
          "[disc]") {
  const auto reader = read(frames_from(0, 5 * 98));
  CHECK_FALSE(reader.contents());
  CHECK_FALSE(reader.pre_emphasis());
  CHECK_FALSE(read(frames_from(0, 5 * 98, 5)).pre_emphasis());  // of a data track it means something else
}
