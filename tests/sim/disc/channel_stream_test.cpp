// SPDX-License-Identifier: Apache-2.0
// Bits are decoded again from the edges alone: sync by two 11T runs, the code table, the Q CRC, the CIRC decoder. These
// are held against outside vectors in tests/core/disc.
#include "sim/disc/channel_stream.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <memory>
#include <set>
#include <utility>
#include <vector>

#include "core/disc/circ/decoder.hpp"

using namespace eyelevel::sim;
using namespace eyelevel::disc;
using eyelevel::base::Random;

namespace {

std::shared_ptr<const Contents> make_contents(std::uint64_t seed = 1) {
  auto contents = draw_contents({}, Random(seed, "contents"));
  contents.catalogue = "5012345678900";
  contents.tracks.at(1).recording_code = "ZZA1B9800123";
  return std::make_shared<const Contents>(std::move(contents));
}

struct DecodedFrameBits {
  std::int64_t first_bit = 0;
  std::array<int, efm::frame_symbols> symbols{};
};

// All whole frames of a window.
std::vector<DecodedFrameBits> decode(const EdgeWindow& window) {
  std::vector<char> bits(static_cast<std::size_t>(window.until_bit - window.first_bit), 0);
  for (const auto edge : window.edges) bits.at(static_cast<std::size_t>(edge)) = 1;
  std::vector<DecodedFrameBits> frames;
  for (std::size_t i = 2; i < window.edges.size(); ++i) {
    const std::int64_t start = window.edges[i - 2];
    if (window.edges[i] - window.edges[i - 1] != 11 || window.edges[i - 1] - start != 11) continue;
    if (start + efm::frame_bits > window.until_bit - window.first_bit) break;
    auto& frame = frames.emplace_back();
    frame.first_bit = window.first_bit + start;
    for (int s = 0; s < efm::frame_symbols; ++s) {
      std::uint32_t group = 0;
      for (int b = 0; b < efm::codeword_bits; ++b)
        group = group << 1U |
                static_cast<std::uint32_t>(bits[static_cast<std::size_t>(start + efm::codeword_offset(s) + b)]);
      frame.symbols[static_cast<std::size_t>(s)] = efm::decode(group);
    }
  }
  return frames;
}

EdgeWindow window_of(ChannelStream& stream, std::int64_t first_bit, std::int64_t until_bit) {
  EdgeWindow window;
  stream.edges(first_bit, until_bit, window);
  return window;
}

QBlock q_block(const ChannelStream& stream, std::int64_t section) { return subcode::parse_q(stream.q(section)); }

}  // namespace

TEST_CASE("channel stream: sections decode to their Q block and P flag in lead-in, pause, track and lead-out",
          "[sim]") {
  const auto contents = make_contents();
  ChannelStream stream(contents);
  const Track& second = contents->tracks.at(1);
  for (const std::int64_t section : {std::int64_t{-5000}, std::int64_t{-1}, std::int64_t{0}, std::int64_t{149},
                                     std::int64_t{150}, second.start - 1, second.start, second.start + 2000,
                                     contents->lead_out() - 1, contents->lead_out(), contents->lead_out() + 200}) {
    INFO("section " << section);
    const auto frames = decode(window_of(stream, section * section_bits, (section + 1) * section_bits + 30));
    REQUIRE(frames.size() == efm::section_frames);
    CHECK(frames[0].symbols[0] == efm::symbol_s0);
    CHECK(frames[1].symbols[0] == efm::symbol_s1);
    std::array<std::uint8_t, 96> control{};
    for (std::size_t i = 0; i < control.size(); ++i) control[i] = static_cast<std::uint8_t>(frames[i + 2].symbols[0]);
    const auto q = subcode::q_of_control_bytes(control);
    CHECK(q == stream.q(section));
    CHECK(subcode::parse_q(q).crc);
    CHECK(subcode::p_ones_of_control_bytes(control) == (stream.p(section) ? 96 : 0));
    for (const auto& frame : frames)
      CHECK(std::ranges::none_of(frame.symbols, [](int s) { return s == efm::symbol_invalid; }));
  }
}

TEST_CASE("channel stream: edges go through the CIRC decoder and give the music back", "[sim]") {
  const auto contents = make_contents();
  ChannelStream stream(contents);
  const std::int64_t first_frame = (contents->tracks[0].start - 1) * efm::section_frames;  // from pause into music
  const auto frames =
      decode(window_of(stream, first_frame * efm::frame_bits, (first_frame + 400) * efm::frame_bits + 30));
  REQUIRE(frames.size() == 400);
  circ::Decoder decoder;
  int good = 0, loud = 0;
  for (std::size_t n = 0; n < frames.size(); ++n) {
    CHECK(frames[n].first_bit == (first_frame + static_cast<std::int64_t>(n)) * efm::frame_bits);
    circ::F2Frame f2{};
    for (std::size_t k = 0; k < circ::f2_symbols; ++k) f2[k] = static_cast<std::uint8_t>(frames[n].symbols[k + 1]);
    const auto out = decoder.push(f2);
    if (!out) continue;
    const auto sent = stream.f1_frame(first_frame + static_cast<std::int64_t>(n) - circ::decode_delay);
    good += out->bad == 0 && out->bytes == sent;
    loud += sent != circ::F1Frame{};
  }
  CHECK(good == 400 - circ::decode_delay);
  CHECK(loud > 150);
  CHECK(loud < good);  // the pause was silent
  CHECK(decoder.c1().e11 + decoder.c1().e21 + decoder.c1().e31 == 0);
}

TEST_CASE("channel stream: any window gives the same edges and level, in any order", "[sim]") {
  const auto contents = make_contents();
  ChannelStream stream(contents);
  const std::int64_t base = 1000 * section_bits;
  const EdgeWindow whole = window_of(stream, base, base + 60000);
  Random random(1, "windows");
  for (int i = 0; i < 300; ++i) {
    const auto from = static_cast<std::int64_t>(random.below(50000));
    const auto length = static_cast<std::int64_t>(random.below(9000));
    ChannelStream fresh(contents);
    ChannelStream& asked = i % 3 == 0 ? fresh : stream;
    if (i % 2 == 0) window_of(stream, -from * 700, -from * 700 + 588);  // elsewhere in between
    const EdgeWindow part = window_of(asked, base + from, base + from + length);
    std::vector<std::int32_t> expected;
    bool land = whole.land_before;
    for (const auto edge : whole.edges) {
      if (edge < from) land = !land;
      if (edge >= from && edge < from + length) expected.push_back(static_cast<std::int32_t>(edge - from));
    }
    CHECK(part.edges == expected);
    CHECK(part.land_before == land);
  }
}

TEST_CASE("channel stream: the level is balanced over pause, music and lead-out", "[sim]") {
  const auto contents = make_contents();
  ChannelStream stream(contents);
  for (const std::int64_t section : {std::int64_t{10}, std::int64_t{3000}, contents->lead_out() + 10}) {
    const std::int64_t bits = 20 * section_bits;
    const EdgeWindow window = window_of(stream, section * section_bits, section * section_bits + bits);
    bool land = window.land_before;
    std::int64_t sum = 0, last = 0;
    for (const auto edge : window.edges) {
      sum += land ? edge - last : last - edge;
      last = edge;
      land = !land;
    }
    sum += land ? bits - last : last - bits;
    // 280 groups whose sums end within about 10, at random: 170 of 1.15 million bits; four times that.
    CHECK(std::abs(static_cast<double>(sum)) / static_cast<double>(bits) < 6e-4);
  }
}

TEST_CASE("channel stream: runs of music are those of the minimal encoder of ECMA-130 annex E", "[sim]") {
  constexpr std::array<double, 12> share = {0, 0, 0, 33.6, 22.7, 16.8, 9.8, 6.3, 4.2, 2.9, 1.4, 2.2};  // percent
  ChannelStream stream(make_contents());
  const EdgeWindow window = window_of(stream, 1000 * section_bits, 1030 * section_bits);
  std::array<double, 12> counts{};
  for (std::size_t i = 1; i < window.edges.size(); ++i)
    counts.at(static_cast<std::size_t>(window.edges[i] - window.edges[i - 1])) += 1;
  const auto runs = static_cast<double>(window.edges.size() - 1);
  for (std::size_t run = 3; run < share.size(); ++run) {
    INFO(run << "T");
    // Four standard errors of 3T are 0.31; one symbol of 33 is no music but subcode, nearly always the same two
    // codewords (3T and 4T runs): up to 0.6 of the 5T.
    CHECK(100 * counts[run] / runs == Approx(share[run]).margin(0.9));
  }
  CHECK(30 * double(section_bits) / runs == Approx(4.77).margin(0.02));
}

TEST_CASE("channel stream: the lead-in repeats the table of contents, each item three times", "[sim]") {
  const auto contents = make_contents();
  const ChannelStream stream(contents);
  std::set<int> points;
  const auto items = static_cast<std::int64_t>(contents->tracks.size()) + 3;
  const std::int64_t from = -contents->lead_in_sections;
  for (std::int64_t section = from; section < from + 3 * items; ++section) {
    const QBlock block = q_block(stream, section);
    REQUIRE(subcode::is_usable(block));
    points.insert(*block.point);
    CHECK(*block.point == q_block(stream, section - (section - from) % 3).point);
    if (block.index) CHECK(subcode::sections_of(*block.absolute) == contents->track(*block.index)->start);
    if (block.point == 0xA1) CHECK(block.absolute->minute == contents->tracks.back().number);
    if (block.point == 0xA2) CHECK(subcode::sections_of(*block.absolute) == contents->lead_out());
    CHECK(subcode::sections_of(*block.relative) == section - from);
  }
  CHECK(points.size() == contents->tracks.size() + 3);
}

TEST_CASE("channel stream: the program's Q blocks continue each other, also over modes 2 and 3", "[sim]") {
  const auto contents = make_contents();
  const ChannelStream stream(contents);
  int other_modes = 0;
  const std::int64_t until = contents->tracks.at(2).start + 300;
  for (std::int64_t section = 1; section < until; ++section) {
    const QBlock block = q_block(stream, section);
    REQUIRE(subcode::continues(q_block(stream, section - 1), block, 1));
    if (block.adr == 1) CHECK(subcode::sections_of(*block.absolute) == section);
    other_modes += block.adr != 1;
  }
  CHECK(other_modes > until / 100);
  // ECMA-130 22.3.2: mode 1 fills at least nine of any ten sections.
  for (std::int64_t section = 0; section < 1000; ++section) {
    int others = 0;
    for (std::int64_t i = 0; i < 10; ++i) others += q_block(stream, section + i).adr != 1;
    CHECK(others <= 1);
  }
}

TEST_CASE("channel stream: the pause counts down to zero and P flags the beginning of a track", "[sim]") {
  const auto contents = make_contents();
  const ChannelStream stream(contents);
  for (const Track& track : contents->tracks) {
    if (track.pause_start < track.start) {
      const QBlock last = q_block(stream, track.start - 1);
      if (last.adr == 1) {
        CHECK(last.index == 0);
        CHECK(last.relative == MinSecFrame{0, 0, 0});
      }
    }
    // 22.2: at least 150 sections, the last with ONE is the first with user data.
    for (std::int64_t section = track.start - 150; section <= track.start; ++section) CHECK(stream.p(section));
    CHECK_FALSE(stream.p(track.start + 1));
  }
  CHECK_FALSE(stream.p(-1));
  CHECK(stream.p(contents->lead_out() - 1));
  CHECK_FALSE(stream.p(contents->lead_out() + 149));
  int ones = 0, changes = 0;
  for (std::int64_t i = 0; i < 750; ++i) {  // ten seconds at 2 Hz
    ones += stream.p(contents->lead_out() + 150 + i);
    changes += stream.p(contents->lead_out() + 150 + i) != stream.p(contents->lead_out() + 151 + i);
  }
  CHECK(ones == Approx(375).margin(19));  // 50 +/- 5 %
  CHECK(changes == Approx(40).margin(1));
}

TEST_CASE("channel stream: discs with the same contents give the same bits, others do not", "[sim]") {
  ChannelStream a(make_contents(1)), b(make_contents(1)), c(make_contents(2));
  const std::int64_t at = 2000 * section_bits;
  CHECK(window_of(a, at, at + 5000).edges == window_of(b, at, at + 5000).edges);
  CHECK(window_of(a, at, at + 5000).edges != window_of(c, at, at + 5000).edges);
}
