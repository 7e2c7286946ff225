// SPDX-License-Identifier: Apache-2.0
// Damaged captures: what analyse() still says of them must be right, or left out. The waveforms are those of
// tests/data/waveforms with independent truth; each is cut, and then hurt in a random way that leaves levels, content
// and positions what they were. EYELEVEL_DAMAGED sets how many (the gate takes a few hundred); the seed is printed.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <iterator>
#include <map>
#include <string>
#include <vector>

#include "core/base/random.hpp"
#include "core/disc/analysis.hpp"
#include "core/disc/circ/layout.hpp"
#include "core/disc/detail/decoded.hpp"
#include "core/disc/subcode/q.hpp"
#include "core/disc/window/cutter.hpp"
#include "core/disc/window/window.hpp"
#include "tests/support/stored_eyes.hpp"

using namespace eyelevel;

namespace {

constexpr const char* names[] = {"pressed-audio", "recordable-audio", "rewritable-data",  "double-speed",
                                 "lead-in",       "damaged-symbols",  "pause-ac-coupled", "short-capture"};

using Codes = std::vector<std::int8_t>;

constexpr std::uint64_t seed = 20;

std::size_t below(base::Random& random, std::size_t n) { return static_cast<std::size_t>(random.below(n)); }

void flip_bits(Codes& codes, base::Random& random) {
  const double share = std::pow(10.0, random.uniform(-5, -1.7));
  const auto flips = static_cast<std::size_t>(share * static_cast<double>(codes.size())) + 1;
  for (std::size_t i = 0; i < flips; ++i) {
    std::int8_t& code = codes[below(random, codes.size())];
    code = static_cast<std::int8_t>(code ^ (1 << below(random, 8)));
  }
}

struct Part {
  std::size_t from, until;
};
Part a_part(const Codes& codes, base::Random& random, double most_share) {
  const auto most = static_cast<std::size_t>(most_share * static_cast<double>(codes.size()));
  const std::size_t length = 1 + below(random, std::max<std::size_t>(1, most));
  const std::size_t from = below(random, codes.size() - length + 1);
  return {from, from + length};
}

void overwrite(Codes& codes, base::Random& random) {
  const Part part = a_part(codes, random, 0.5);
  const bool is_noise = random.chance(0.5);
  const auto level = static_cast<std::int8_t>(static_cast<int>(below(random, 256)) - 128);
  for (std::size_t i = part.from; i < part.until; ++i)
    codes[i] = is_noise ? static_cast<std::int8_t>(static_cast<int>(below(random, 256)) - 128) : level;
}

void lose(Codes& codes, base::Random& random) {
  const Part part = a_part(codes, random, 0.3);
  codes.erase(codes.begin() + static_cast<std::ptrdiff_t>(part.from),
              codes.begin() + static_cast<std::ptrdiff_t>(part.until));
}

void repeat(Codes& codes, base::Random& random) {
  const Part part = a_part(codes, random, 0.3);
  const Codes again(codes.begin() + static_cast<std::ptrdiff_t>(part.from),
                    codes.begin() + static_cast<std::ptrdiff_t>(part.until));
  codes.insert(codes.begin() + static_cast<std::ptrdiff_t>(part.until), again.begin(), again.end());
}

void add_noise(Codes& codes, base::Random& random) {
  const double sigma = std::pow(10.0, random.uniform(0, 1.7));
  for (auto& code : codes)
    code = static_cast<std::int8_t>(std::clamp(std::lround(code + random.normal(0, sigma)), -128L, 127L));
}

void hum(Codes& codes, base::Random& random) {
  const double height = random.uniform(2, 40), per_sample = random.uniform(1e-7, 1e-5) * 6.28;
  for (std::size_t i = 0; i < codes.size(); ++i)
    codes[i] = static_cast<std::int8_t>(
        std::clamp(std::lround(codes[i] + height * std::sin(per_sample * static_cast<double>(i))), -128L, 127L));
}

struct Damage {
  const char* name;
  void (*apply)(Codes&, base::Random&);
  bool moves_levels;  // beyond noise that averages out: hum lifts both levels, noise clips
};
constexpr Damage damages[] = {
    {"only cut", [](Codes&, base::Random&) {}, false},
    {"bits flipped", flip_bits, false},
    {"a part overwritten", overwrite, false},
    {"samples lost", lose, false},
    {"samples repeated", repeat, false},
    {"noise", add_noise, true},
    {"hum", hum, true},
};

// Number n of a series, from a whole waveform: a part of it, damaged.
struct Damaged {
  const char* name;
  const Damage& damage;
  signal::Waveform wave;
};
Damaged damaged_capture(int n, const std::map<std::string, support::StoredEye>& eyes) {
  base::Random random(seed + static_cast<std::uint64_t>(n), "damage");
  const char* name = names[below(random, std::size(names))];
  const Damage& damage = damages[below(random, std::size(damages))];
  const support::StoredEye& eye = eyes.at(name);
  Codes codes = std::get<Codes>(eye.wave.codes);
  const auto least = static_cast<std::size_t>(0.0004 * eye.wave.rate_hz);
  const std::size_t length = least < codes.size() ? least + below(random, codes.size() - least + 1) : codes.size();
  const std::size_t from = below(random, codes.size() - length + 1);
  codes = Codes(codes.begin() + static_cast<std::ptrdiff_t>(from),
                codes.begin() + static_cast<std::ptrdiff_t>(from + length));
  damage.apply(codes, random);
  signal::Waveform wave = eye.wave;
  wave.codes = std::move(codes);
  return {name, damage, std::move(wave)};
}

int damaged_captures() {
  const char* wanted = std::getenv("EYELEVEL_DAMAGED");
  return wanted != nullptr ? std::atoi(wanted) : 300;
}

std::map<std::string, support::StoredEye> stored_eyes() {
  std::map<std::string, support::StoredEye> eyes;
  for (const char* name : names) eyes.emplace(name, support::stored_eye(name));
  return eyes;
}

// Frames as the analysis finds them in a record of a single window; where sync slips back by less than half a frame,
// the frame before has the symbols.
using Frames = std::vector<disc::detail::Frame>;
Frames frames_of(const signal::Waveform& wave) {
  const disc::eye::Rails rails{-128, 127};
  disc::window::Tally tally(rails, 34e-6);
  const auto found = disc::window::Looker(wave.rate_hz, rails).look(wave.view().codes, {0, {0, wave.size()}}, tally);
  Frames frames;
  for (const disc::detail::Frame& frame : found.list) {
    if (frames.empty() || frame.start >= frames.back().start + 0.5 * found.frame_samples) frames.push_back(frame);
  }
  return frames;
}
bool is_one_window(const signal::Waveform& wave) {
  const disc::window::Lengths lengths = disc::window::lengths_at(wave.rate_hz);
  return wave.size() <= lengths.core + lengths.core / 2 + lengths.overlap;
}

int equal_symbols(const disc::circ::F2Frame& a, const disc::circ::F2Frame& b) {
  int equal = 0;
  for (std::size_t k = 0; k < a.size(); ++k) equal += a[k] == b[k] ? 1 : 0;
  return equal;
}

// Which frame of the truth each frame is: the one most alike, if a quarter of its symbols agree; else by its number
// from the last that was known. -1 where neither is there.
std::vector<std::ptrdiff_t> places_of(const Frames& frames, const Frames& truth) {
  std::vector<std::ptrdiff_t> places(frames.size(), -1);
  std::ptrdiff_t last = -1;
  for (std::size_t f = 0; f < frames.size(); ++f) {
    std::ptrdiff_t due = last < 0 ? -1 : places[f - 1] + (frames[f].number - frames[f - 1].number);
    if (due >= static_cast<std::ptrdiff_t>(truth.size())) due = -1;
    std::ptrdiff_t best = due;
    int most = 7;  // of 32; one symbol in 256 agrees by chance
    const auto look_at = [&](std::ptrdiff_t i) {
      const int equal = equal_symbols(frames[f].symbols, truth[static_cast<std::size_t>(i)].symbols);
      if (equal > most) best = i, most = equal;
    };
    if (due >= 0) look_at(due);
    if (most <= 7) {
      for (std::size_t i = 0; i < truth.size(); ++i) look_at(static_cast<std::ptrdiff_t>(i));
    }
    places[f] = last = best;
  }
  return places;
}

// What became of the C1 words of a capture, by what was really wrong in them.
struct Words {
  std::int64_t right = 0, wrong = 0;  // up to two wrong symbols: counted as such, or not
  std::int64_t beyond = 0;            // three and more
  std::int64_t passed = 0;            // of these, taken for a word with two wrong symbols or fewer
  std::int64_t suspect = 0;           // of those, the ones that stand beside an E31
  std::int64_t unknown = 0;           // whose truth lies outside the record
};

int wrong_symbols(const disc::detail::Frame& a, const disc::circ::F2Frame& right, std::size_t first, bool or_marked) {
  int wrong = 0;
  for (std::size_t k = first; k < right.size(); k += 2)
    wrong += a.symbols[k] != right[k] || (or_marked && (a.invalid >> k & 1U) != 0) ? 1 : 0;
  return wrong;
}

// What the decoder says of the C1 word that ends with each frame: wrong symbols, 3 for not correctable; -1 without
// word.
std::vector<std::int64_t> said_of(const Frames& frames, disc::C1Counts* counts) {
  std::vector<std::int64_t> said;
  disc::detail::FrameDecoder decoder({}, {});
  for (const disc::detail::Frame& frame : frames) {
    const disc::C1Counts before = decoder.c1();
    decoder.take(frame, disc::Content::audio);  // no sectors are looked for
    const disc::C1Counts& after = decoder.c1();
    const std::int64_t wrong = after.e11 - before.e11 + 2 * (after.e21 - before.e21) + 3 * (after.e31 - before.e31);
    said.push_back(after.words > before.words ? wrong : -1);
  }
  *counts = decoder.c1();
  return said;
}

// A C1 word: even symbols of its frame, odd ones of the frame before (ECMA-130 annex C).
Words words_of(const Frames& frames, const Frames& truth, disc::C1Counts* counts) {
  const std::vector<std::ptrdiff_t> places = places_of(frames, truth);
  const std::vector<std::int64_t> said = said_of(frames, counts);
  Words words;
  for (std::size_t f = 1; f < frames.size(); ++f) {
    if (said[f] < 0) continue;
    if (places[f] < 1) {
      ++words.unknown;
      continue;
    }
    const disc::circ::F2Frame &even = truth[static_cast<std::size_t>(places[f])].symbols,
                              &odd = truth[static_cast<std::size_t>(places[f] - 1)].symbols;
    const auto count = [&](bool or_marked) {
      return wrong_symbols(frames[f], even, 0, or_marked) + wrong_symbols(frames[f - 1], odd, 1, or_marked);
    };
    if (count(true) <= 2) {
      ++(said[f] == count(false) ? words.right : words.wrong);
      continue;
    }
    ++words.beyond;
    if (said[f] == 3) continue;
    ++words.passed;
    const bool beside = said[f - 1] == 3 || (f + 1 < frames.size() && said[f + 1] == 3);
    words.suspect += said[f] == 2 && beside ? 1 : 0;
  }
  return words;
}

std::string text_of(const disc::QBlock& q) {
  std::string text = std::to_string(q.control) + "/" + std::to_string(q.adr) + "/" + std::to_string(q.track);
  for (const auto& time : {q.relative, q.absolute})
    text += time ? "/" + std::to_string(disc::subcode::sections_of(*time)) : "/-";
  return text;
}

}  // namespace

TEST_CASE("analyse: of damaged captures nothing wrong is said with confidence", "[disc]") {
  const auto eyes = stored_eyes();
  std::map<std::string, disc::Analysis> whole;  // its blocks are held against the truth in analyse_test.cpp
  for (const char* name : names) whole.emplace(name, disc::analyse(eyes.at(name).wave.view(), eyes.at(name).options()));
  const int count = damaged_captures();
  int said = 0;
  for (int n = 0; n < count; ++n) {
    const auto [name, damage, wave] = damaged_capture(n, eyes);
    const support::StoredEye& eye = eyes.at(name);
    const disc::Analysis a = disc::analyse(wave.view(), eye.options());
    std::string warnings;
    for (const auto& w : a.warnings) warnings += w + "; ";
    INFO("number " << n << ": " << name << ", " << damage.name << ", " << wave.size() << " samples: " << warnings);
    const double i11 = eye.number("i11_v");
    if (a.level.peak_to_peak_v) {
      ++said;
      // One per cent, and four standard errors that the analysis itself states for so short a record.
      const double slack = 0.01 * i11 + 4 * a.level_standard_error_v.value_or(0);
      CHECK(std::abs(*a.level.peak_to_peak_v - i11) < (damage.moves_levels ? 2 : 1) * slack + 0.01 * i11);
    }
    // What is flagged as disturbed, or noisy, is told with less precision.
    const double ratio_slack = damage.moves_levels || a.disturbed ? 0.15 : 0.05;
    if (a.i3_over_i11) CHECK(*a.i3_over_i11 == Approx(eye.number("i3_over_i11")).margin(ratio_slack));
    if (a.asymmetry) CHECK(*a.asymmetry == Approx(eye.number("asymmetry")).margin(ratio_slack));
    if (a.content != disc::Content::unknown) CHECK(a.content == whole.at(name).content);
    for (const disc::QBlock& q : a.subcode) {
      if (!disc::subcode::is_usable(q)) continue;
      bool known = false;
      for (const disc::QBlock& right : whole.at(name).subcode) known = known || text_of(q) == text_of(right);
      INFO("block " << text_of(q));
      CHECK(known);
    }
  }
  CHECK(said > count / 2);  // most of these can be measured
}

TEST_CASE("analyse: of a record whose clock is hardly held, no I3 is told, and why", "[disc]") {
  const Damaged damaged = damaged_capture(2360, stored_eyes());  // I3/I11 would be 0.74 instead of 0.50
  const disc::Analysis a = disc::analyse(damaged.wave.view());
  CHECK_FALSE(a.level.i3_v);
  CHECK_FALSE(a.i3_over_i11);
  CHECK_FALSE(a.asymmetry);
  CHECK(a.disturbed);
  CHECK(std::any_of(a.warnings.begin(), a.warnings.end(), [](const std::string& w) {
    return w.find("short runs cannot be told from each other") != std::string::npos;
  }));
}

// A word with three wrong symbols or more is taken for another one with at most (255^-4) sum over s = 0, 1, 2 of
// C(32, s) 255^s = 0.76 % (R. J. McEliece, L. Swanson, On the decoder error probability for Reed-Solomon codes, IEEE
// Trans. Inf. Theory 32 (1986), 701-703; the code is C1 of ECMA-130 annex C, (32, 28), two errors corrected).
TEST_CASE("analyse: of damaged captures C1 words are counted as they are, but for what passes for another word",
          "[disc]") {
  const auto eyes = stored_eyes();
  std::map<std::string, Frames> truth;
  for (const char* name : names) {
    if (name == std::string("damaged-symbols")) continue;  // its symbols are not all those that were encoded
    Frames frames = frames_of(eyes.at(name).wave);
    disc::C1Counts all;
    const Words words = words_of(frames, frames, &all);
    CAPTURE(name);
    REQUIRE(disc::wrong_words(all) == 0);  // so that these are the symbols that were encoded
    REQUIRE(words.right == all.words);
    truth.emplace(name, std::move(frames));
  }
  Words sum;
  std::int64_t captures = 0;
  for (int n = 0; n < damaged_captures(); ++n) {
    const auto [name, damage, wave] = damaged_capture(n, eyes);
    if (!truth.contains(name) || !is_one_window(wave)) continue;
    ++captures;
    INFO("number " << n << ": " << name << ", " << damage.name << ", " << wave.size() << " samples");
    disc::C1Counts all;
    const Words words = words_of(frames_of(wave), truth.at(name), &all);
    const disc::Analysis a = disc::analyse(wave.view(), eyes.at(name).options());
    // The words looked at are those of the analysis.
    if (a.c1) {
      CHECK(a.c1->words == all.words);
      CHECK(a.c1->e11 == all.e11);
      CHECK(a.c1->e21 == all.e21);
      CHECK(a.c1->e31 == all.e31);
    }
    CHECK(words.wrong == 0);
    sum.right += words.right;
    sum.beyond += words.beyond;
    sum.passed += words.passed;
    sum.suspect += words.suspect;
    sum.unknown += words.unknown;
    // A capture with such a word is not taken for a good one: uncorrectable words stand in it, too.
    if (words.passed > 0) CHECK((a.c1 && a.c1->e31 > 0));
  }
  const double rate = (1 + 32 * 255.0 + 496 * 255.0 * 255.0) / std::pow(255.0, 4);
  const double expected = rate * static_cast<double>(sum.beyond);
  fmt::print(
      "C1 of {} damaged captures, seed {}: {} words with two wrong symbols or fewer, told right; {} with more, of "
      "which {} passed for another word, {:.2f} of what is to be expected at most; {} of these stand beside an E31\n",
      captures, seed, sum.right, sum.beyond, sum.passed, static_cast<double>(sum.passed) / expected, sum.suspect);
  CHECK(static_cast<double>(sum.passed) <= expected + 4 * std::sqrt(expected) + 1);
  CHECK(sum.beyond > captures);
  CHECK(sum.right > 20 * captures);
  CHECK(sum.unknown < sum.right / 1000);  // little was left out
}
