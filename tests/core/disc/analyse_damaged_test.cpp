// SPDX-License-Identifier: Apache-2.0
// Damaged captures: what analyse() still says of them must be right, or left out. The waveforms are those of
// tests/data/waveforms with independent truth; each is cut, and then hurt in a random way that leaves levels, content
// and positions what they were. EYELEVEL_DAMAGED sets how many (the gate takes a few hundred); the seed is printed.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <map>
#include <string>
#include <vector>

#include "core/base/random.hpp"
#include "core/disc/analysis.hpp"
#include "core/disc/subcode/q.hpp"
#include "tests/support/stored_eyes.hpp"

using namespace eyelevel;

namespace {

constexpr const char* names[] = {"pressed-audio", "recordable-audio", "rewritable-data",  "double-speed",
                                 "lead-in",       "damaged-symbols",  "pause-ac-coupled", "short-capture"};

using Codes = std::vector<std::int8_t>;

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

std::string text_of(const disc::QBlock& q) {
  std::string text = std::to_string(q.control) + "/" + std::to_string(q.adr) + "/" + std::to_string(q.track);
  for (const auto& time : {q.relative, q.absolute})
    text += time ? "/" + std::to_string(disc::subcode::sections_of(*time)) : "/-";
  return text;
}

}  // namespace

TEST_CASE("analyse: of damaged captures nothing wrong is said with confidence", "[disc]") {
  std::map<std::string, support::StoredEye> eyes;
  std::map<std::string, disc::Analysis> whole;  // its blocks are held against the truth in analyse_test.cpp
  for (const char* name : names) {
    eyes.emplace(name, support::stored_eye(name));
    whole.emplace(name, disc::analyse(eyes.at(name).wave.view(), eyes.at(name).options()));
  }
  const char* wanted = std::getenv("EYELEVEL_DAMAGED");
  const int count = wanted != nullptr ? std::atoi(wanted) : 300;
  constexpr std::uint64_t seed = 20;
  int said = 0;
  for (int n = 0; n < count; ++n) {
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
