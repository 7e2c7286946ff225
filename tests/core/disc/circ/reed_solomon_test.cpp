// SPDX-License-Identifier: Apache-2.0
// Outside truth: the independent library libfec (init_rs_char: 8 bits, polynomial 0x11D, first root a^0, step 1, 4
// parity symbols). It shortens by leading zeros (pad = 255 - n) and has the parity at the end, as C1 has; the Q parity
// of C2 lies in the middle, so there libfec is asked whether the word is one.
#include "core/disc/circ/reed_solomon.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <bit>
#include <memory>
#include <vector>

#include "core/base/random.hpp"
#include "tests/core/disc/vectors.hpp"

extern "C" {
#include <fec.h>
}

using namespace eyelevel::disc::circ;
using eyelevel::base::Random;
using namespace eyelevel::tests;

namespace {

struct Library {
  explicit Library(int symbols) : code(init_rs_char(8, 0x11D, 0, 1, 4, 255 - symbols), free_rs_char) {}
  std::unique_ptr<void, void (*)(void*)> code;
};

template <class Word>
Word random_word(Random& random) {
  Word word{};
  for (auto& symbol : word) symbol = static_cast<std::uint8_t>(random.below(256));
  return word;
}

// `count` different positions below n, as a mask.
std::uint32_t random_places(Random& random, int count, std::size_t n) {
  std::uint32_t mask = 0;
  while (std::popcount(mask) < count) mask |= 1U << random.below(n);
  return mask;
}

template <class Word>
void damage(Random& random, Word& word, std::uint32_t places) {
  for (std::size_t i = 0; i < word.size(); ++i)
    if (places >> i & 1U) word[i] = static_cast<std::uint8_t>(word[i] ^ (1 + random.below(255)));
}

// Compares one random word after another with the library. Answers how many could not be corrected.
template <class Word>
int compare_with_library(Random& random, int words, int errors_most) {
  const Library library(static_cast<int>(Word{}.size()));
  int refused = 0;
  for (int n = 0; n < words; ++n) {
    Word sent = random_word<Word>(random);
    if constexpr (sizeof(Word) == f2_symbols) {
      set_p_parity(sent);
    } else {
      set_q_parity(sent);
    }
    const int erased_count = static_cast<int>(random.below(5));
    const int errors = static_cast<int>(random.below(static_cast<std::uint64_t>(errors_most) + 1));
    const std::uint32_t erased = random_places(random, erased_count, sent.size());
    Word received = sent;
    damage(random, received, erased);
    damage(random, received, random_places(random, errors, sent.size()));

    Word theirs = received;
    std::array<int, 4> places{};
    int given = 0;
    for (int i = 0; i < static_cast<int>(sent.size()); ++i)
      if (erased >> i & 1U) places[static_cast<std::size_t>(given++)] = i;
    const int answer = decode_rs_char(library.code.get(), theirs.data(), places.data(), given);

    Word ours = received;
    const Correction correction = correct(ours, erased, 2);
    if (correction.failed) {
      ++refused;
      // The library also answers where erasures and errors together ask for more than the four parity symbols give
      // (2 errors + erasures > 4): that is a guess, and refused here.
      int changed = 0;
      for (std::size_t i = 0; i < sent.size(); ++i) changed += theirs[i] != received[i] && !(erased >> i & 1U);
      if (answer >= 0 && 2 * changed + erased_count <= 4) FAIL("the library repaired a word that was refused here");
      if (ours != received) FAIL("a refused word was changed");
    } else {
      if (answer < 0) FAIL("a word was repaired that the library refuses");
      if (ours != theirs) FAIL("the repaired words differ");
      if (std::popcount(correction.where) != correction.wrong) FAIL("count and mask differ");
    }
  }
  return refused;
}

}  // namespace

TEST_CASE("field: the check values of ECMA-130 C.7 hold", "[disc]") {
  CHECK(alpha_power(8) == 0x1D);
  CHECK(alpha_power(25) == 0x03);
  CHECK(alpha_power(254) == 0x8E);
  CHECK(alpha_power(-1) == 0x8E);
  CHECK(alpha_power(255) == 1);
  CHECK(multiply(0x53, 0xCA) == 0x8F);
  for (int a = 1; a < 256; ++a) {
    const auto x = static_cast<std::uint8_t>(a);
    CHECK(multiply(x, inverse(x)) == 1);
  }
}

TEST_CASE("field: multiplication is that of polynomials modulo x^8 + x^4 + x^3 + x^2 + 1", "[disc]") {
  int wrong = 0;
  for (unsigned a = 0; a < 256; ++a)
    for (unsigned b = 0; b < 256; ++b) {
      unsigned product = 0;
      for (unsigned bit = 0; bit < 8; ++bit)
        if (b >> bit & 1U) product ^= a << bit;
      for (unsigned bit = 15; bit >= 8; --bit)
        if (product >> bit & 1U) product ^= 0x11DU << (bit - 8);
      wrong += multiply(static_cast<std::uint8_t>(a), static_cast<std::uint8_t>(b)) != product;
    }
  CHECK(wrong == 0);
}

TEST_CASE("parity: the words of frame 110 have the published parity", "[disc]") {
  const auto published = json_vectors("circ_vectors.json").at("word110");
  auto c2 = from_hex<C2Word>(std::string_view(published.at("C2_word_28").as_string()));
  auto c1 = from_hex<C1Word>(std::string_view(published.at("C1_word_32").as_string()));
  const auto c2_true = c2;
  const auto c1_true = c1;
  std::fill(c2.begin() + 12, c2.begin() + 16, std::uint8_t{0xEE});  // must not matter
  std::fill(c1.begin() + 28, c1.end(), std::uint8_t{0xEE});
  set_q_parity(c2);
  set_p_parity(c1);
  CHECK(c2 == c2_true);
  CHECK(c1 == c1_true);
  CHECK(syndromes_of(c2) == Syndromes{});
  CHECK(syndromes_of(c1) == Syndromes{});
}

TEST_CASE("syndromes: the damage worked out for the C1 word of frame 110 gives the published values", "[disc]") {
  auto word =
      from_hex<C1Word>(std::string_view(json_vectors("circ_vectors.json").at("word110").at("C1_word_32").as_string()));
  const auto sent = word;
  word[5] ^= 0x3C;
  CHECK(syndromes_of(word) == Syndromes{0x3C, 0x88, 0x17, 0x72});
  CHECK(multiply(0x3C, alpha_power(26)) == 0x88);  // the ratio names position 31 - 26 = 5
  word[20] ^= 0x81;
  CHECK(syndromes_of(word) == Syndromes{0xBD, 0x4D, 0xCD, 0x3F});
  const Correction correction = correct(word, 0, 2);
  CHECK_FALSE(correction.failed);
  CHECK(correction.wrong == 2);
  CHECK(correction.where == (1U << 5 | 1U << 20));
  CHECK(word == sent);
}

TEST_CASE("parity: P equals that of an independent library on 20 000 random words, and Q words are words of its code",
          "[disc]") {
  Random random(1, "parity");
  const Library c1_code(f2_symbols), c2_code(c2_symbols);
  int wrong_p = 0, wrong_q = 0;
  for (int n = 0; n < 20000; ++n) {
    C1Word ours = random_word<C1Word>(random), theirs = ours;
    set_p_parity(ours);
    encode_rs_char(c1_code.code.get(), theirs.data(), theirs.data() + 28);
    wrong_p += ours != theirs;
    C2Word word = random_word<C2Word>(random);
    set_q_parity(word);
    C2Word checked = word;
    if (!is_c2_word(word)) ++wrong_q;
    wrong_q += decode_rs_char(c2_code.code.get(), checked.data(), nullptr, 0) != 0 || checked != word;
  }
  CHECK(wrong_p == 0);
  CHECK(wrong_q == 0);
}

TEST_CASE("correction: a million random words with random errors and erasures fare as in an independent library",
          "[disc]") {
  Random random(2, "damage");
  const int c1_refused = compare_with_library<C1Word>(random, 500000, 4);
  const int c2_refused = compare_with_library<C2Word>(random, 500000, 4);
  // Both ways must have been walked: most words with three or more errors cannot be repaired.
  CHECK(c1_refused > 100000);
  CHECK(c1_refused < 450000);
  CHECK(c2_refused > 100000);
  CHECK(c2_refused < 450000);
}

TEST_CASE("correction: what the distance allows is always repaired", "[disc]") {
  Random random(3, "allowed");
  for (int n = 0; n < 5000; ++n) {
    C1Word sent = random_word<C1Word>(random);
    set_p_parity(sent);
    const auto [errors, erased_count] =
        std::array<std::pair<int, int>, 6>{{{0, 4}, {1, 2}, {1, 1}, {2, 0}, {1, 0}, {0, 3}}}[random.below(6)];
    const std::uint32_t places = random_places(random, errors + erased_count, sent.size());
    std::uint32_t erased = places;
    for (int k = 0; k < errors; ++k) erased &= erased - 1;  // the lowest are errors, nobody marked them
    C1Word word = sent;
    CHECK(is_c1_word(word));
    damage(random, word, places);
    CHECK_FALSE(is_c1_word(word));
    const Correction correction = correct(word, erased, 2);
    CHECK_FALSE(correction.failed);
    CHECK(word == sent);
    CHECK(correction.where == places);
  }
}

TEST_CASE("correction: a random word is taken for one with two errors as often as counting neighbours says", "[disc]") {
  // (496 * 255^2 + 32 * 255 + 1) / 256^4 = 0.7511 %; 60 000 words: standard error 0.035 %.
  Random random(4, "noise");
  int accepted = 0;
  constexpr int words = 60000;
  for (int n = 0; n < words; ++n) {
    C1Word word = random_word<C1Word>(random);
    accepted += !correct(word, 0, 2).failed;
  }
  const double expected = (496.0 * 255 * 255 + 32.0 * 255 + 1) / 4294967296.0;
  CHECK(accepted / double(words) == Approx(expected).margin(4 * std::sqrt(expected / words)));
}
