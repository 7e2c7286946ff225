// SPDX-License-Identifier: Apache-2.0
// Outside truth: circ_vectors.json, its F2-frames and its damage cases with their counts.
#include "core/disc/circ/decoder.hpp"

#include <catch2/catch.hpp>

#include <array>
#include <string>
#include <vector>

#include "core/base/random.hpp"
#include "core/disc/circ/encoder.hpp"
#include "tests/core/disc/vectors.hpp"

using namespace eyelevel::disc::circ;
using eyelevel::base::Random;
using namespace eyelevel::tests;

namespace {

struct Played {
  int good = 0;        // of F1-frames 0 to 119: right and vouched for
  int wrong_good = 0;  // bytes vouched for although wrong
  int right = 0;       // bytes right, vouched for or not
  int bad_bytes = 0;
  eyelevel::disc::C1Counts c1;
  eyelevel::disc::C2Counts c2;
};

Played play(const std::vector<F2Frame>& f2, const std::vector<F1Frame>& f1,
            const std::vector<std::uint32_t>& invalid = {}, const eyelevel::disc::CircStrategy& strategy = {}) {
  Decoder decoder(strategy);
  Played played;
  for (std::size_t n = 0; n < f2.size(); ++n) {
    const auto out = decoder.push(f2[n], invalid.empty() ? 0 : invalid[n]);
    CHECK(out.has_value() == (n >= decode_delay));
    if (!out || n - decode_delay >= f1.size()) continue;
    const F1Frame& sent = f1[n - decode_delay];
    played.good += out->bad == 0 && out->bytes == sent;
    played.right += out->bytes == sent;
    for (std::size_t k = 0; k < f1_bytes; ++k) {
      const bool bad = (out->bad >> k & 1U) != 0;
      played.bad_bytes += bad;
      played.wrong_good += !bad && out->bytes[k] != sent[k];
    }
  }
  played.c1 = decoder.c1();
  played.c2 = decoder.c2();
  return played;
}

}  // namespace

TEST_CASE("CIRC decoder: F1-frames come back 111 frames later without a count", "[disc]") {
  const auto vectors = json_vectors("circ_vectors.json");
  const auto f1 = frames_from_hex<F1Frame>(vectors.at("f1"));
  const auto f2 = frames_from_hex<F2Frame>(vectors.at("f2"));
  const Played played = play(f2, f1);
  CHECK(played.good == 120);
  CHECK(played.c1.words == 239);  // a word needs two frames
  CHECK(played.c1.e11 + played.c1.e21 + played.c1.e31 == 0);
  CHECK(played.c2.words == 240 - 109);
  CHECK(played.c2.e12 + played.c2.e22 + played.c2.e32 == 0);
}

TEST_CASE("CIRC decoder: the six published damage cases give their counts and repairs", "[disc]") {
  const auto vectors = json_vectors("circ_vectors.json");
  const auto f1 = frames_from_hex<F1Frame>(vectors.at("f1"));
  const auto f2 = frames_from_hex<F2Frame>(vectors.at("f2"));
  const auto& cases = vectors.at("error_cases").as_array();
  REQUIRE(cases.size() == 6);
  for (const auto& damage : cases) {
    auto received = f2;
    for (const auto& injected : damage.at("inject").as_array()) {
      const auto& at = injected.as_array();
      auto& symbol = received.at(at[0].to_number<std::size_t>()).at(at[1].to_number<std::size_t>());
      symbol = static_cast<std::uint8_t>(symbol ^ at[2].to_number<int>());
    }
    const Played played = play(received, f1);
    const auto& expect = damage.at("expect");
    const std::string name(std::string_view(damage.at("name").as_string()));
    INFO(name);
    CHECK(played.c1.e11 == expect.at("E11").to_number<std::int64_t>());
    CHECK(played.c1.e21 == expect.at("E21").to_number<std::int64_t>());
    CHECK(played.c1.e31 == expect.at("E31").to_number<std::int64_t>());
    CHECK(played.wrong_good == 0);
    if (name == "burst16") {
      // One frame more than four erasures can repair: how much is saved depends on the strategy, but some is lost and
      // said.
      CHECK(played.c2.e32 > 0);
      CHECK(played.bad_bytes > 0);
      CHECK(played.good < 120);
    } else {
      CHECK(played.good == expect.at("recovered_input_frames").to_number<int>());
      CHECK(played.c2.e32 == 0);
    }
  }
}

TEST_CASE("CIRC decoder: with each strategy the six cases give exactly the counts of a decoder made by other means",
          "[disc]") {
  // circ_counts.json is what circ_counts.py beside it prints: linear equations and trying of all pairs of places.
  const auto vectors = json_vectors("circ_vectors.json");
  const auto f1 = frames_from_hex<F1Frame>(vectors.at("f1"));
  const auto f2 = frames_from_hex<F2Frame>(vectors.at("f2"));
  const auto counts = json_vectors("circ_counts.json");
  int compared = 0;
  for (const auto& damage : vectors.at("error_cases").as_array()) {
    auto received = f2;
    for (const auto& injected : damage.at("inject").as_array()) {
      const auto& at = injected.as_array();
      auto& symbol = received.at(at[0].to_number<std::size_t>()).at(at[1].to_number<std::size_t>());
      symbol = static_cast<std::uint8_t>(symbol ^ at[2].to_number<int>());
    }
    const std::string name(std::string_view(damage.at("name").as_string()));
    for (const auto& row : counts.at(name).as_array()) {
      const eyelevel::disc::CircStrategy strategy{.c1_corrects = row.at("c1_corrects").to_number<int>(),
                                                  .c2_erasures = row.at("c2_erasures").as_bool()};
      const Played played = play(received, f1, {}, strategy);
      INFO(name << ": " << describe(strategy));
      const auto expected = [&](const char* key) { return row.at(key).to_number<std::int64_t>(); };
      CHECK(played.c1.e11 == expected("e11"));
      CHECK(played.c1.e21 == expected("e21"));
      CHECK(played.c1.e31 == expected("e31"));
      CHECK(played.c2.e12 == expected("e12"));
      CHECK(played.c2.e22 == expected("e22"));
      CHECK(played.c2.e32 == expected("e32"));
      CHECK(played.good == expected("vouched_frames"));
      CHECK(played.right == expected("right_frames"));
      ++compared;
    }
  }
  CHECK(compared == 6 * 4);
}

TEST_CASE("CIRC decoder: the strategy is told in words that differ where it differs", "[disc]") {
  CHECK(describe({.c1_corrects = 2, .c2_erasures = true}) ==
        "C1 corrects up to 2 wrong symbols and flags a word with more; C2 takes up to four flags as erasures, else "
        "corrects up to two wrong symbols");
  CHECK(describe({.c1_corrects = 1, .c2_erasures = false}) ==
        "C1 corrects up to 1 wrong symbol and flags a word with more; C2 corrects up to two wrong symbols");
}

TEST_CASE("CIRC decoder: words in a row are counted, a gap ends a row, and E21 beside E31 is told", "[disc]") {
  const auto clean = frames_from_hex<F2Frame>(json_vectors("circ_vectors.json").at("f2"));
  auto received = clean;
  // Even symbols only, so that each frame is one C1 word: E21 E31 E31 E21 E11 - E31 - E21.
  const auto damage = [&](std::size_t frame, std::size_t wrong) {
    for (std::size_t k = 0; k < wrong; ++k) received[frame][2 * k] ^= static_cast<std::uint8_t>(0x11 + 7 * k);
  };
  const std::array<std::size_t, 9> wrong = {2, 3, 3, 2, 1, 0, 3, 0, 2};
  for (std::size_t n = 0; n < wrong.size(); ++n) damage(120 + n, wrong[n]);
  const Played played = play(received, {});
  CHECK(played.c1.e11 == 1);
  CHECK(played.c1.e21 == 3);
  CHECK(played.c1.e31 == 3);
  CHECK(played.c1.e21_beside_e31 == 2);
  CHECK(played.c1.uncorrectable_longest == 2);
  CHECK(played.c1.wrong_longest == 5);

  Decoder decoder;  // the same damage cut after the first of the two E31
  for (std::size_t n = 100; n < 122; ++n) decoder.push(received[n]);
  decoder.gap();
  for (std::size_t n = 121; n < 140; ++n) decoder.push(received[n]);
  CHECK(decoder.c1().e31 == 3);
  CHECK(decoder.c1().uncorrectable_longest == 1);
  CHECK(decoder.c1().wrong_longest == 3);
}

TEST_CASE("CIRC decoder: a burst of 15 frames is repaired wherever it begins, and random bytes instead of 16 are not",
          "[disc]") {
  Random random(1, "burst");
  Encoder encoder;
  std::vector<F1Frame> f1(400);
  std::vector<F2Frame> f2;
  for (auto& frame : f1) {
    for (auto& byte : frame) byte = static_cast<std::uint8_t>(random.below(256));
    f2.push_back(encoder.push(frame));
  }
  for (const int length : {15, 40}) {
    auto received = f2;
    std::vector<std::uint32_t> invalid(f2.size(), 0);
    for (std::size_t n = 200; n < 200U + static_cast<std::size_t>(length); ++n) {
      for (auto& symbol : received[n]) symbol = static_cast<std::uint8_t>(random.below(256));
      invalid[n] = 0xFFFFFFFF;  // no symbol was a codeword: nothing leaks through C1 by chance
    }
    const Played played = play(received, f1, invalid);
    INFO("burst of " << length << " frames");
    CHECK(played.c1.e31 == length + 1);
    // Where all 28 symbols of a C2 word are random, the try for two errors finds a wrong word in 0.6 % of cases (378
    // pairs of places): of about 100 such words less than five.
    CHECK(played.wrong_good <= (length > 15 ? 5 * c2_symbols : 0));
    CHECK((played.c2.e32 > 0) == (length > 15));
    CHECK((played.bad_bytes > 0) == (length > 15));
  }
}

TEST_CASE("CIRC decoder: C1 counts follow the damage laid into each word", "[disc]") {
  // Even symbols only, so that each frame is one C1 word; one to five different symbols wrong.
  Random random(2, "counts");
  Encoder encoder;
  std::vector<F1Frame> f1(2000);
  std::vector<F2Frame> f2;
  std::int64_t e11 = 0, e21 = 0, three_or_more = 0;
  for (std::size_t n = 0; n < f1.size(); ++n) {
    for (auto& byte : f1[n]) byte = static_cast<std::uint8_t>(random.below(256));
    f2.push_back(encoder.push(f1[n]));
    if (n == 0 || !random.chance(0.3)) continue;
    const auto wrong = 1 + random.below(5);
    for (std::uint64_t k = 0; k < wrong; ++k)
      f2.back()[6 * k] = static_cast<std::uint8_t>(f2.back()[6 * k] ^ (1 + random.below(255)));
    (wrong == 1 ? e11 : wrong == 2 ? e21 : three_or_more) += 1;
  }
  const Played played = play(f2, {});
  CHECK(played.c1.e11 == e11);
  // 0.75 % of the words with three or more wrong symbols pass for words with two: about 3 of 360.
  CHECK(played.c1.e21 - e21 == three_or_more - played.c1.e31);
  CHECK(played.c1.e21 - e21 < 15);
  CHECK(played.c1.e31 > 300);
}

TEST_CASE("CIRC decoder: a correction that leaves a mark standing is not believed", "[disc]") {
  const auto vectors = json_vectors("circ_vectors.json");
  const auto f2 = frames_from_hex<F2Frame>(vectors.at("f2"));
  auto received = f2;
  std::vector<std::uint32_t> invalid(f2.size(), 0);
  received[130][2] ^= 0x11;
  received[130][4] ^= 0x22;
  invalid[130] = 1U << 2;  // one of the two: all is well
  received[150][2] ^= 0x11;
  received[150][4] ^= 0x22;
  invalid[150] = 1U << 6;  // a third: more than two
  const Played played = play(received, {}, invalid);
  CHECK(played.c1.e21 == 1);
  CHECK(played.c1.e31 == 1);
}

TEST_CASE("CIRC decoder: after a gap nothing of the frames before is used and the counts go on", "[disc]") {
  const auto f2 = frames_from_hex<F2Frame>(json_vectors("circ_vectors.json").at("f2"));
  Decoder decoder;
  for (int n = 0; n < 200; ++n) decoder.push(f2[static_cast<std::size_t>(n)]);
  CHECK(decoder.c1().words == 199);
  decoder.gap();
  for (int n = 0; n < decode_delay; ++n) CHECK_FALSE(decoder.push(f2[static_cast<std::size_t>(n)]).has_value());
  CHECK(decoder.push(f2[decode_delay]).has_value());
  CHECK(decoder.c1().words == 199 + 111);
  CHECK(decoder.c1().e31 == 0);
  decoder.reset();
  CHECK(decoder.c1().words == 0);
}
