// SPDX-License-Identifier: Apache-2.0
#include "core/disc/window/cutter.hpp"

#include <catch2/catch.hpp>

#include <cstdint>
#include <numeric>

#include "core/disc/clock/survey.hpp"

using namespace eyelevel::disc;

namespace {

constexpr window::Lengths lengths{1000, 100};

struct Seen {
  window::Place place;
  std::vector<float> samples;
};

std::vector<Seen> cut(std::size_t samples, std::size_t block, bool last_at_once) {
  std::vector<float> all(samples);
  std::iota(all.begin(), all.end(), 0.0F);
  window::Cutter<float> cutter(lengths);
  std::vector<Seen> seen;
  const auto visit = [&](std::span<const float> part, const window::Place& place) {
    seen.push_back({place, {part.begin(), part.end()}});
  };
  std::span<const float> rest(all);
  while (rest.size() > (last_at_once ? block : 0)) {
    const std::size_t n = std::min(block, rest.size());
    cutter.take(rest.first(n), visit);
    rest = rest.subspan(n);
  }
  cutter.finish(rest, visit);
  return seen;
}

}  // namespace

TEST_CASE("cutter: every sample lies in one core, and windows overlap to either side", "[disc]") {
  const auto seen = cut(5000, 5000, true);
  REQUIRE(seen.size() == 5);
  std::size_t due = 0;
  for (const Seen& s : seen) {
    CHECK(s.place.core.from == due);
    due = s.place.core.to;
    CHECK(s.place.start == (s.place.core.from == 0 ? 0 : s.place.core.from - 100));
    CHECK(s.samples.size() == std::min<std::size_t>(5000, due == 5000 ? due : due + 100) - s.place.start);
    CHECK(s.samples.front() == static_cast<float>(s.place.start));
  }
  CHECK(due == 5000);
}

TEST_CASE("cutter: the last window is between half and one and a half cores long", "[disc]") {
  for (const std::size_t samples : {1601U, 2000U, 2599U, 2600U, 2601U, 3000U}) {
    CAPTURE(samples);
    const window::Span core = cut(samples, samples, true).back().place.core;
    CHECK(core.to == samples);
    CHECK(core.to - core.from > 500);
    CHECK(core.to - core.from <= 1600);
  }
}

TEST_CASE("cutter: a record of up to one and a half cores is one window", "[disc]") {
  for (const std::size_t samples : {0U, 1U, 999U, 1600U}) {
    const auto seen = cut(samples, 1 + samples, true);
    REQUIRE(seen.size() == 1);
    CHECK(seen[0].samples.size() == samples);
  }
  CHECK(cut(1601, 1601, true).size() == 2);
}

TEST_CASE("cutter: blocks of any size give the same windows", "[disc]") {
  for (const std::size_t samples : {300U, 1600U, 1601U, 4321U}) {
    const auto whole = cut(samples, samples, true);
    for (const std::size_t block : {1U, 7U, 99U, 100U, 101U, 999U, 1000U, 1001U, 1599U, 1600U, 1601U, 2500U, 4320U}) {
      for (const bool last_at_once : {false, true}) {
        CAPTURE(samples, block, last_at_once);
        const auto parts = cut(samples, block, last_at_once);
        REQUIRE(parts.size() == whole.size());
        for (std::size_t i = 0; i < parts.size(); ++i) {
          CHECK(parts[i].place.start == whole[i].place.start);
          CHECK(parts[i].place.core.from == whole[i].place.core.from);
          CHECK(parts[i].place.core.to == whole[i].place.core.to);
          CHECK(parts[i].samples == whole[i].samples);
        }
      }
    }
  }
}

TEST_CASE("cutter: windows hold 50 ms where memory allows and are whole envelope blocks long", "[disc]") {
  const window::Lengths usual = window::lengths_at(20e6);
  CHECK(static_cast<double>(usual.core) == Approx(1e6).epsilon(0.001));
  CHECK(static_cast<double>(usual.overlap) == Approx(68e3).epsilon(0.02));
  for (const double rate_hz : {1.0, 44100.0, 7.8e6, 20e6, 250 * 4321800.0, 1e12, 1e300}) {
    CAPTURE(rate_hz);
    const window::Lengths at = window::lengths_at(rate_hz);
    const std::size_t block = clock::block_samples(rate_hz);
    CHECK(at.core % block == 0);
    CHECK(at.overlap % block == 0);
    CHECK(at.core >= 4 * block);
    CHECK(at.overlap >= block);
    CHECK(at.overlap <= at.core / 4);
    CHECK(at.core <= (1U << 20));
  }
}
