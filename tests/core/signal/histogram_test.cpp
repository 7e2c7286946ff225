// SPDX-License-Identifier: Apache-2.0
#include "core/signal/histogram.hpp"

#include <catch2/catch.hpp>

#include <limits>
#include <map>

#include "core/base/error.hpp"
#include "core/base/random.hpp"
#include "core/metrology/statistics.hpp"

using namespace eyelevel;
using signal::WaveformView;

namespace {

WaveformView view_of(signal::CodesView codes, double scale_v = 1, double offset_v = 0) {
  return {codes, 20e6, scale_v, offset_v, std::nullopt};
}

template <class Code>
void check_against_counting(const std::vector<Code>& codes) {
  std::map<int, std::uint64_t> truth;
  for (const Code code : codes) ++truth[code];
  const auto got = signal::count_codes(std::span<const Code>(codes));
  REQUIRE(got.lowest == truth.begin()->first);
  REQUIRE(got.highest() == truth.rbegin()->first);
  std::size_t wrong = 0;
  for (int code = got.lowest; code <= got.highest(); ++code) {
    const auto found = truth.find(code);
    wrong += got.counts[static_cast<std::size_t>(code - got.lowest)] != (found == truth.end() ? 0 : found->second);
  }
  CHECK(wrong == 0);
}

}  // namespace

TEST_CASE("count codes: every length and both ways of counting agree with counting one by one", "[signal]") {
  base::Random random(1, "codes");
  for (const std::size_t n : {1UL, 3UL, 4UL, 5UL, 1000UL, (1UL << 19) - 1, (1UL << 19) + 7}) {
    CAPTURE(n);
    std::vector<std::int8_t> bytes(n);
    for (auto& b : bytes) b = static_cast<std::int8_t>(random.below(256) - 128);
    check_against_counting(bytes);
    std::vector<std::int16_t> words(std::min(n, 100000UL));
    for (auto& w : words) w = static_cast<std::int16_t>(random.below(65536) - 32768);
    check_against_counting(words);
  }
  check_against_counting(std::vector<std::int8_t>(1 << 20, -128));
  check_against_counting(std::vector<std::int16_t>{-32768, 32767});
}

TEST_CASE("histogram: codes are scaled once, a negative scale turns the axis", "[signal]") {
  const std::vector<std::int8_t> codes{-2, -2, 1};
  const auto rising = signal::histogram(view_of(std::span(codes), 0.01, 1));
  CHECK(rising.first_v == Approx(0.98));
  CHECK(rising.step_v == 0.01);
  CHECK(rising.counts == std::vector<std::uint64_t>{2, 0, 0, 1});
  const auto falling = signal::histogram(view_of(std::span(codes), -0.01, 1));
  CHECK(falling.first_v == Approx(0.99));
  CHECK(falling.counts == std::vector<std::uint64_t>{1, 0, 0, 2});
}

TEST_CASE("histogram: floats fall into equal bins, the largest into the last", "[signal]") {
  const std::vector<float> volts{0, 0.1F, 0.5F, 0.99F, 1};
  const auto got = signal::histogram(view_of(std::span(volts)), 4);
  CHECK(got.counts == std::vector<std::uint64_t>{2, 0, 1, 2});
  CHECK(got.first_v == Approx(0.125));
  CHECK(got.step_v == Approx(0.25));
  const std::vector<float> equal(7, 1.5F);
  const auto one = signal::histogram(view_of(std::span(equal)), 4);
  CHECK(one.counts == std::vector<std::uint64_t>{7});
  CHECK(one.first_v == 1.5);
}

TEST_CASE("summary: codes and floats give what two-pass statistics give", "[signal]") {
  // Truth: statistics() of the volts, itself held against NIST; 1e-12 relative is rounding of a million sums.
  base::Random random(2, "summary");
  std::vector<std::int8_t> bytes(100001);
  std::vector<std::int16_t> words(bytes.size());
  std::vector<float> floats(bytes.size());
  for (std::size_t i = 0; i < bytes.size(); ++i) {
    bytes[i] = static_cast<std::int8_t>(std::clamp(random.normal(20, 30), -128.0, 127.0));
    words[i] = static_cast<std::int16_t>(std::clamp(random.normal(2000, 3000), -32768.0, 32767.0));
    floats[i] = static_cast<float>(random.normal(1.2, 0.1));
  }
  for (const signal::CodesView codes :
       {signal::CodesView(std::span<const std::int8_t>(bytes)), signal::CodesView(std::span<const std::int16_t>(words)),
        signal::CodesView(std::span<const float>(floats))}) {
    for (const double scale_v : {0.0125, -0.0125}) {
      const auto view = view_of(codes, scale_v, 1.6);
      std::vector<double> volts;
      for (std::size_t i = 0; i < view.size(); ++i) volts.push_back(view.volts(i));
      const auto truth = metrology::statistics(volts);
      const auto got = signal::summarise(view);
      CHECK(got.count == volts.size());
      CHECK(got.mean_v == Approx(truth.mean).epsilon(1e-12));
      CHECK(got.sd_v == Approx(truth.sd).epsilon(1e-10));
      CHECK(got.min_v == Approx(*std::min_element(volts.begin(), volts.end())).epsilon(1e-14));
      CHECK(got.max_v == Approx(*std::max_element(volts.begin(), volts.end())).epsilon(1e-14));
    }
  }
}

TEST_CASE("histogram: no samples and samples that are no voltage are refused by place", "[signal]") {
  CHECK_THROWS_WITH(signal::summarise(view_of(std::span<const std::int8_t>{})), Catch::Contains("no samples"));
  std::vector<float> volts(100, 1.0F);
  volts[63] = std::numeric_limits<float>::quiet_NaN();
  CHECK_THROWS_WITH(signal::histogram(view_of(std::span<const float>(volts))),
                    Catch::Contains("sample 63 of 100 is nan"));
  volts[63] = -std::numeric_limits<float>::infinity();
  CHECK_THROWS_WITH(signal::summarise(view_of(std::span<const float>(volts))),
                    Catch::Contains("sample 63 of 100 is -inf"));
}

TEST_CASE("quantile: samples are spread over their bin", "[signal]") {
  const std::vector<std::int8_t> codes{0, 0, 1, 3};
  const auto h = signal::histogram(view_of(std::span(codes)));
  CHECK(signal::quantile_v(h, 0) == -0.5);
  CHECK(signal::quantile_v(h, 0.25) == 0);
  CHECK(signal::quantile_v(h, 0.5) == 0.5);
  CHECK(signal::quantile_v(h, 0.75) == 1.5);
  CHECK(signal::quantile_v(h, 1) == 3.5);
  CHECK_THROWS_AS(signal::quantile_v(h, -0.1), base::Error);
}

TEST_CASE("clipped share: ends of the screen, or of the converter when no screen is known", "[signal]") {
  const std::vector<std::int8_t> codes{-128, -127, 0, 100, 126, 127, 127, 127};
  auto view = view_of(std::span(codes), 0.01, 0);
  CHECK(signal::clipped_share(view) == 4.0 / 8);
  view.screen = signal::Screen{-1.27, 1.26};
  CHECK(signal::clipped_share(view) == 6.0 / 8);
  view.scale_v = -0.01;
  view.screen = signal::Screen{-1.26, 1.27};
  CHECK(signal::clipped_share(view) == 6.0 / 8);
  const std::vector<float> volts{0, 2.6F};
  auto floats = view_of(std::span<const float>(volts));
  CHECK(signal::clipped_share(floats) == 0);
  floats.screen = signal::Screen{0.6, 2.6};
  CHECK(signal::clipped_share(floats) == 1);
}
