// SPDX-License-Identifier: Apache-2.0
#include "core/disc/picture/low_high.hpp"

#include <catch2/catch.hpp>

#include <cmath>

using namespace eyelevel;
using namespace eyelevel::disc::picture;

namespace {

const signal::WaveformView scale{std::span<const float>(), 1000, -2, 5, std::nullopt};  // volts = 5 - 2 code

std::vector<float> ramp(std::size_t count) {
  std::vector<float> codes(count);
  for (std::size_t i = 0; i < count; ++i) codes[i] = static_cast<float>(i);
  return codes;
}

}  // namespace

TEST_CASE("low and high: each stretch has its lowest and highest voltage, of an inverted scale, too", "[disc]") {
  LowHigh envelope(scale);
  const auto codes = ramp(40);
  envelope.take(std::span<const float>(codes));
  const auto points = envelope.result();
  REQUIRE(points.size() == 3);  // stretches of 16 samples: 0 to 15, 16 to 31, 32 to 39
  CHECK(points[1].start_s == Approx(0.016));
  CHECK(points[1].low_v == Approx(5 - 2 * 31));
  CHECK(points[1].high_v == Approx(5 - 2 * 16));
  CHECK(points[2].low_v == Approx(5 - 2 * 39));
}

TEST_CASE("low and high: blocks of any size give the same, and points do not grow with the record", "[disc]") {
  const auto codes = ramp(100'000);
  const std::span<const float> all(codes);
  LowHigh whole(scale), pieces(scale);
  whole.take(all);
  for (std::size_t at = 0; at < all.size(); at += 777)
    pieces.take(all.subspan(at, std::min<std::size_t>(777, all.size() - at)));
  const auto a = whole.result(), b = pieces.result();
  CHECK(a.size() <= LowHigh::points_most);
  CHECK(a.size() > LowHigh::points_most / 2);
  REQUIRE(a.size() == b.size());
  for (std::size_t i = 0; i < a.size(); ++i) {
    const bool same = a[i].start_s == b[i].start_s && a[i].low_v == b[i].low_v && a[i].high_v == b[i].high_v;
    CHECK(same);
  }
  CHECK(a.back().low_v == Approx(5 - 2 * 99'999.0));
}

TEST_CASE("low and high: samples that are no number are left out", "[disc]") {
  LowHigh envelope(scale);
  CHECK(envelope.result().empty());
  const std::vector<float> odd{NAN, HUGE_VALF, -HUGE_VALF};
  envelope.take(std::span<const float>(odd));
  CHECK(envelope.result().empty());
}
