// SPDX-License-Identifier: Apache-2.0
// Outside truth: circ_vectors.json, and the impulse response worked out from ECMA-130 annex C.
#include "core/disc/circ/encoder.hpp"

#include <catch2/catch.hpp>

#include <map>
#include <utility>
#include <vector>

#include "tests/core/disc/vectors.hpp"

using namespace eyelevel::disc::circ;
using namespace eyelevel::tests;

namespace {

// Frames before 0 and after the last are silence.
struct Recording {
  std::vector<F1Frame> frames;
  F1Frame frame(std::int64_t n) const {
    return n >= 0 && n < static_cast<std::int64_t>(frames.size()) ? frames[static_cast<std::size_t>(n)] : F1Frame{};
  }
  std::uint8_t byte(std::int64_t n, int index) const { return frame(n)[static_cast<std::size_t>(index)]; }
};

F2Frame silence() {
  F2Frame frame{};
  for (int k = 0; k < f2_symbols; ++k) frame[static_cast<std::size_t>(k)] = is_parity(k) ? 0xFF : 0x00;
  return frame;
}

}  // namespace

TEST_CASE("CIRC encoder: the generator of the vectors gives the F1-frames stored beside its rule", "[disc]") {
  const auto f1 = frames_from_hex<F1Frame>(json_vectors("circ_vectors.json").at("f1"));
  REQUIRE(f1.size() == 120);
  std::uint32_t s = 1;
  int wrong = 0;
  for (const auto& frame : f1)
    for (const auto byte : frame) {
      s = 1664525U * s + 1013904223U;
      wrong += byte != s >> 24U;
    }
  CHECK(wrong == 0);
}

TEST_CASE("CIRC encoder: 240 F2-frames equal the published ones, frame after frame and at once", "[disc]") {
  const auto vectors = json_vectors("circ_vectors.json");
  const Recording recording{frames_from_hex<F1Frame>(vectors.at("f1"))};
  const auto f2 = frames_from_hex<F2Frame>(vectors.at("f2"));
  REQUIRE(f2.size() == 240);
  Encoder encoder;
  for (std::int64_t n = 0; n < 240; ++n) {
    INFO("frame " << n);
    CHECK(encoder.push(recording.frame(n)) == f2[static_cast<std::size_t>(n)]);
    CHECK(f2_of(c1_word_at(recording, n), c1_word_at(recording, n - 1)) == f2[static_cast<std::size_t>(n)]);
    if (n != 110) continue;
    const auto& words = vectors.at("word110");
    CHECK(encoder.last_c2() == from_hex<C2Word>(std::string_view(words.at("C2_word_28").as_string())));
    CHECK(encoder.last_c1() == from_hex<C1Word>(std::string_view(words.at("C1_word_32").as_string())));
  }
}

TEST_CASE("CIRC encoder: one byte in silence changes the 25 symbols worked out from the standard", "[disc]") {
  const std::map<std::pair<int, int>, int> expected = {
      {{2, 29}, 0x58},  {{2, 31}, 0xad},  {{3, 0}, 0x01},   {{3, 28}, 0xc9},  {{3, 30}, 0x3d},
      {{50, 29}, 0xce}, {{50, 31}, 0xa9}, {{51, 12}, 0x96}, {{51, 28}, 0x19}, {{51, 30}, 0x17},
      {{54, 13}, 0x9f}, {{54, 29}, 0x67}, {{54, 31}, 0xe9}, {{55, 28}, 0xc8}, {{55, 30}, 0x26},
      {{58, 29}, 0x16}, {{58, 31}, 0x67}, {{59, 14}, 0x40}, {{59, 28}, 0x98}, {{59, 30}, 0x56},
      {{62, 15}, 0x48}, {{62, 29}, 0x18}, {{62, 31}, 0x75}, {{63, 28}, 0x7f}, {{63, 30}, 0xa5}};
  std::map<std::pair<int, int>, int> found;
  Encoder encoder;
  for (int n = 0; n < 240; ++n) {
    F1Frame frame{};
    if (n == 0) frame[0] = 1;
    const F2Frame out = encoder.push(frame);
    for (int k = 0; k < f2_symbols; ++k)
      if (out[static_cast<std::size_t>(k)] != silence()[static_cast<std::size_t>(k)])
        found[{n, k}] = out[static_cast<std::size_t>(k)];
  }
  CHECK(found == expected);
}

TEST_CASE("CIRC encoder: each byte alone appears after its own delay at its own place (figure C.4)", "[disc]") {
  // Total delays of the 24 bytes in frames, read off the figure.
  constexpr std::array<int, f1_bytes> delay = {3,  6,  27, 30,  65, 68, 89, 92, 11, 14, 35,  38,
                                               73, 76, 97, 100, 19, 22, 43, 46, 81, 84, 105, 108};
  constexpr std::array<int, f1_bytes> place = {0,  1,  6,  7,  16, 17, 22, 23, 2,  3,  8,  9,
                                               18, 19, 24, 25, 4,  5,  10, 11, 20, 21, 26, 27};
  for (std::size_t byte = 0; byte < f1_bytes; ++byte) {
    Encoder encoder;
    int found = 0;
    for (int n = 0; n < 128; ++n) {
      F1Frame frame{};
      if (n == 0) frame[byte] = 0xA5;
      const F2Frame out = encoder.push(frame);
      for (int k = 0; k < c2_symbols; ++k) {
        if (is_parity(k) || out[static_cast<std::size_t>(k)] == 0) continue;
        ++found;
        CHECK(n == delay[byte]);
        CHECK(k == place[byte]);
      }
    }
    CHECK(found == 1);
  }
}

TEST_CASE("CIRC encoder: after reset it starts from silence again", "[disc]") {
  Encoder encoder;
  F1Frame frame{};
  frame.fill(0x77);
  encoder.push(frame);
  encoder.reset();
  CHECK(encoder.push(F1Frame{}) == silence());
}
