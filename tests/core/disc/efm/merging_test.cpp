// SPDX-License-Identifier: Apache-2.0
// Outside truth: channel_section_vector.json (annex E rule with the same tie order), and the run-length shares of
// random data through the minimal encoder, worked out from annex E by simulation elsewhere.
#include "core/disc/efm/merging.hpp"

#include <catch2/catch.hpp>

#include <cstdlib>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "core/base/random.hpp"
#include "core/disc/circ/layout.hpp"
#include "core/disc/subcode/q.hpp"
#include "tests/core/disc/vectors.hpp"

using namespace eyelevel::disc;
using namespace eyelevel::tests;

namespace {

// Codewords are turned back into bits here by their own short rule, so that bits are compared, not edge lists.
std::string bits_of(std::span<const std::uint16_t> edges) {
  std::string bits(efm::frame_bits, '0');
  for (const auto edge : edges) bits.at(edge) = '1';
  return bits;
}

std::string bits_of_hex(std::string_view hex) {
  std::string bits;
  for (const char c : hex) {
    const int digit = std::stoi(std::string(1, c), nullptr, 16);
    for (int bit = 3; bit >= 0; --bit) bits += (digit >> bit & 1) != 0 ? '1' : '0';
  }
  return bits;
}

efm::FrameSymbols random_symbols(eyelevel::base::Random& random) {
  efm::FrameSymbols symbols{};
  for (auto& symbol : symbols) symbol = static_cast<std::uint16_t>(random.below(256));
  return symbols;
}

struct Stream {
  std::vector<long> edges;
  efm::MergingState state;
  long frames = 0;
  int level_largest = 0;
  void add(const efm::FrameSymbols& symbols, efm::Parity parity = efm::Parity::any) {
    std::array<std::uint16_t, efm::frame_edges_max> frame{};
    const int count = efm::encode_frame(symbols, state, frame, parity);
    for (int i = 0; i < count; ++i) edges.push_back(frames * efm::frame_bits + frame[static_cast<std::size_t>(i)]);
    ++frames;
    level_largest = std::max(level_largest, std::abs(state.digital_sum));
  }
};

}  // namespace

TEST_CASE("merging bits: a whole section equals the published one bit by bit", "[disc]") {
  const auto section = json_vectors("channel_section_vector.json");
  const auto f2 = frames_from_hex<circ::F2Frame>(json_vectors("circ_vectors.json").at("f2"));
  const auto q = from_hex<subcode::QBytes>(std::string_view(section.at("q_hex").as_string()));
  const auto& frames = section.at("frame_hex").as_array();
  REQUIRE(frames.size() == efm::section_frames);

  efm::MergingState state;  // level +1, sum 0 before the first bit, as the vector has it
  for (std::size_t n = 0; n < frames.size(); ++n) {
    efm::FrameSymbols symbols{};
    symbols[0] = n == 0   ? efm::symbol_s0
                 : n == 1 ? efm::symbol_s1
                          : subcode::control_byte(q, true, static_cast<int>(n));
    for (std::size_t k = 0; k < circ::f2_symbols; ++k) symbols[k + 1] = f2.at(n)[k];
    std::array<std::uint16_t, efm::frame_edges_max> edges{};
    const int count = efm::encode_frame(symbols, state, edges);
    INFO("frame " << n);
    CHECK(bits_of(std::span(edges).first(static_cast<std::size_t>(count))) ==
          bits_of_hex(frames[n].as_string()).substr(0, efm::frame_bits));
  }
}

TEST_CASE("merging bits: runs stay between 3T and 11T and the sync pattern appears once a frame", "[disc]") {
  eyelevel::base::Random random(1, "symbols");
  Stream stream;
  for (int n = 0; n < 3000; ++n) {
    auto symbols = random_symbols(random);
    if (n % 98 < 2) symbols[0] = static_cast<std::uint16_t>(efm::symbol_s0 + n % 98);
    if (n % 5 == 0) symbols.fill(static_cast<std::uint16_t>(random.below(256)));  // one byte all over
    stream.add(symbols, n % 2 == 0 ? efm::Parity::even : efm::Parity::any);
  }
  int pairs = 0, bad = 0;
  for (std::size_t i = 2; i < stream.edges.size(); ++i) {
    const long run = stream.edges[i] - stream.edges[i - 1], before = stream.edges[i - 1] - stream.edges[i - 2];
    bad += run < 3 || run > 11;
    if (run != 11 || before != 11) continue;
    ++pairs;
    bad += stream.edges[i - 2] % efm::frame_bits != 0;
  }
  CHECK(bad == 0);
  CHECK(pairs == stream.frames);
}

TEST_CASE("merging bits: random data has the run lengths of the minimal encoder of annex E", "[disc]") {
  // Shares in percent and mean: worked out elsewhere from 600 frames; their last digit is 0.1, and four standard errors
  // of the counts of 3000 frames are below 0.35 for the most frequent run.
  constexpr std::array<double, 12> share = {0, 0, 0, 33.6, 22.7, 16.8, 9.8, 6.3, 4.2, 2.9, 1.4, 2.2};
  eyelevel::base::Random random(2, "symbols");
  Stream stream;
  for (int n = 0; n < 3000; ++n) stream.add(random_symbols(random));
  std::array<double, 12> counts{};
  for (std::size_t i = 1; i < stream.edges.size(); ++i)
    counts.at(static_cast<std::size_t>(stream.edges[i] - stream.edges[i - 1])) += 1;
  const auto runs = static_cast<double>(stream.edges.size() - 1);
  for (std::size_t run = 3; run < counts.size(); ++run) {
    INFO(run << "T");
    CHECK(100 * counts[run] / runs == Approx(share[run]).margin(0.35));
  }
  CHECK(static_cast<double>(stream.frames) * efm::frame_bits / runs == Approx(4.77).margin(0.02));
  CHECK(runs / static_cast<double>(stream.frames) == Approx(123.2).margin(0.5));
  CHECK(stream.level_largest <= 30);  // 22 at symbol ends over 600 frames; five times as many reach a little further
}

TEST_CASE("merging bits: an even or odd number of edges can be had in every frame, and even leaves the level as it was",
          "[disc]") {
  eyelevel::base::Random random(3, "symbols");
  Stream stream;
  int disobeyed = 0;
  for (int n = 0; n < 2000; ++n) {
    const auto edges_before = stream.edges.size();
    auto symbols = random_symbols(random);
    if (n % 4 == 0)  // digital silence: 12 x 00, 4 x FF, twice
      for (std::size_t k = 1; k < symbols.size(); ++k) symbols[k] = (k - 1) % 16 < 12 ? 0x00 : 0xFF;
    const bool want_even = n % 3 != 0;
    const int level = stream.state.level;
    stream.add(symbols, want_even ? efm::Parity::even : efm::Parity::odd);
    disobeyed += ((stream.edges.size() - edges_before) % 2 == 0) != want_even;
    CHECK(stream.state.level == (want_even ? level : -level));
  }
  CHECK(disobeyed == 0);
  CHECK(stream.level_largest < 40);
}

TEST_CASE("merging bits: no sequence of symbols leads to where no choice is legal", "[disc]") {
  // The state that decides is (last complete run, ZEROs since the last ONE). Every state that any choice can reach is
  // visited by brute force over strings, apart from the encoder's tables.
  const auto word_bits = [](std::uint32_t word, int bits) {
    std::string text;
    for (int i = bits - 1; i >= 0; --i) text += (word >> i & 1U) != 0 ? '1' : '0';
    return text;
  };
  std::vector<std::string> words;
  for (int byte = 0; byte < 256; ++byte) words.push_back(word_bits(efm::codeword(static_cast<std::uint8_t>(byte)), 14));
  words.push_back(word_bits(efm::s0_codeword, 14));
  words.push_back(word_bits(efm::s1_codeword, 14));
  words.push_back(word_bits(efm::sync_pattern, 24));
  const std::size_t sync = words.size() - 1;

  using State = std::pair<int, int>;
  const auto walk = [](State& state, const std::string& bits, bool sync_here) {
    int elevens = 0;
    for (const char bit : bits) {
      if (bit == '0') {
        ++state.second;
        if (state.second > 10) return false;
        continue;
      }
      const int run = state.second + 1;
      if (run < 3 || run > 11) return false;
      if (run == 11 && state.first == 11 && !(sync_here && ++elevens == 1)) return false;
      state = {run, 0};
    }
    return true;
  };
  std::set<State> seen{{11, 1}};
  std::vector<State> open{{11, 1}};
  int dead_ends = 0;
  while (!open.empty()) {
    const State from = open.back();
    open.pop_back();
    for (std::size_t w = 0; w < words.size(); ++w) {
      bool any = false;
      for (const char* merging : {"000", "100", "010", "001"}) {
        State to = from;
        if (!walk(to, merging, false) || !walk(to, words[w], w == sync)) continue;
        any = true;
        if (seen.insert(to).second) open.push_back(to);
      }
      dead_ends += any ? 0 : 1;
    }
  }
  CHECK(seen.size() > 50);
  CHECK(dead_ends == 0);
}
