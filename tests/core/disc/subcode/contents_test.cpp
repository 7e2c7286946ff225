// SPDX-License-Identifier: Apache-2.0
// Items are built as ECMA-130 2nd ed. 22.3.4 lays them out; the capture of a lead-in that was rendered elsewhere is
// read in analyse_contents_test.cpp.
#include "core/disc/subcode/contents.hpp"

#include <catch2/catch.hpp>

#include "core/disc/subcode/q.hpp"

using namespace eyelevel::disc;

namespace {

QBlock item(int point, MinSecFrame p_time, int control = 0) {
  return subcode::parse_q(subcode::build_contents_q({control, point, {0, 1, 0}, p_time}));
}

// Tracks 1 and 2 of sound, 3 of data.
std::vector<QBlock> whole_table() {
  return {item(1, {0, 2, 0}),    item(2, {4, 10, 33}),  item(3, {9, 59, 74}, 4),
          item(0xA0, {1, 0, 0}), item(0xA1, {3, 0, 0}), item(0xA2, {21, 7, 5})};
}

}  // namespace

TEST_CASE("contents: tracks, their kind and the lead-out are gathered", "[disc]") {
  const TableOfContents contents = subcode::contents_of(whole_table());
  CHECK(contents.complete);
  CHECK(*contents.first_track == 1);
  CHECK(*contents.last_track == 3);
  CHECK(*contents.lead_out == MinSecFrame{21, 7, 5});
  REQUIRE(contents.tracks.size() == 3);
  CHECK(contents.tracks.at(2).start == MinSecFrame{4, 10, 33});
  CHECK_FALSE(contents.tracks.at(2).is_data);
  CHECK(contents.tracks.at(3).is_data);
}

TEST_CASE("contents: without any one of its items the table is not complete and has no mark", "[disc]") {
  for (std::size_t missing = 0; missing < 6; ++missing) {
    CAPTURE(missing);
    auto blocks = whole_table();
    blocks.erase(blocks.begin() + static_cast<std::ptrdiff_t>(missing));
    const TableOfContents contents = subcode::contents_of(blocks);
    CHECK_FALSE(contents.complete);
    CHECK(subcode::mark_of(contents).empty());
  }
}

TEST_CASE("contents: damaged blocks and those of the program do not count", "[disc]") {
  auto blocks = whole_table();
  blocks[1].crc = false;
  QBlock program;
  program.crc = true;
  program.adr = 1;
  program.track = 2;
  program.index = 1;
  program.relative = program.absolute = MinSecFrame{4, 10, 33};
  blocks.push_back(program);
  CHECK_FALSE(subcode::contents_of(blocks).complete);
}

TEST_CASE("contents: the mark is the same for the same table in any order, and another for another disc", "[disc]") {
  auto blocks = whole_table();
  const std::string mark = subcode::mark_of(subcode::contents_of(blocks));
  CHECK_THAT(mark, Catch::StartsWith("3 tracks to 21:07:05, "));
  std::reverse(blocks.begin(), blocks.end());
  CHECK(subcode::mark_of(subcode::contents_of(blocks)) == mark);
  for (std::size_t i = 0; i < 3; ++i) {
    auto other = whole_table();
    other[i].absolute->frame += i == 2 ? -1 : 1;
    CHECK(subcode::mark_of(subcode::contents_of(other)) != mark);
  }
  auto data = whole_table();
  data[0].control = 4;
  CHECK(subcode::mark_of(subcode::contents_of(data)) != mark);
}
