// SPDX-License-Identifier: Apache-2.0
// The kernels of this processor against the plain formulas; lengths that no vector register divides.
#include "sim/disc/kernels.hpp"

#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <vector>

using namespace eyelevel::sim;

TEST_CASE("kernels: rows are added as the formula says, at any length", "[sim]") {
  std::vector<float> row(37), next(37);
  for (std::size_t i = 0; i < row.size(); ++i) {
    row[i] = static_cast<float>(i);
    next[i] = 2 * static_cast<float>(i) + 1;
  }
  for (std::size_t count = 0; count <= row.size(); ++count) {
    std::vector<float> out(row.size(), 1.0F);
    kernels::add_scaled_rows(std::span(out).first(count), row.data(), next.data(), 0.25F, -2);
    for (std::size_t i = 0; i < out.size(); ++i)
      CHECK(out[i] == Approx(i < count ? 1 - 2 * (row[i] + 0.25F * (next[i] - row[i])) : 1.0F));
  }
}

TEST_CASE("kernels: a little saturation is the formula's to 1e-6 up to 0.8 of the limit, either sign", "[sim]") {
  std::vector<float> volts;
  for (float v = -1.6F; v <= 1.6F; v += 0.0037F) volts.push_back(v);
  const auto before = volts;
  kernels::saturate_a_little(volts, 2);
  for (std::size_t i = 0; i < volts.size(); ++i) {
    const auto v = static_cast<double>(before[i]);
    CHECK(static_cast<double>(volts[i]) == Approx(v / std::pow(1 + std::pow(v / 2, 16), 1.0 / 16)).margin(2e-6));
  }
}

TEST_CASE("kernels: noise is the sum of eight bytes of xorshift in each lane", "[sim]") {
  std::array<std::uint32_t, kernels::noise_lanes> first{}, second{};
  for (std::size_t i = 0; i < first.size(); ++i) {
    first[i] = static_cast<std::uint32_t>(i * 7919 + 1);
    second[i] = static_cast<std::uint32_t>(i * 104729 + 3);
  }
  auto one = first, other = second;
  std::vector<float> values(3 * kernels::noise_lanes);
  kernels::noise_of_8(first, second, values, 0.5F);
  const auto bytes = [](std::uint32_t& x) {
    x ^= x << 13U;
    x ^= x >> 17U;
    x ^= x << 5U;
    return static_cast<int>((x & 255U) + (x >> 8U & 255U) + (x >> 16U & 255U) + (x >> 24U));
  };
  for (std::size_t i = 0; i < values.size(); ++i) {
    const std::size_t lane = i % kernels::noise_lanes;
    CHECK(values[i] == 0.5F * static_cast<float>(bytes(one[lane]) + bytes(other[lane]) - 1020));
  }
}

TEST_CASE("kernels: the highest is that of either sign, wherever it stands", "[sim]") {
  std::vector<float> values(70, 0.5F);
  for (std::size_t i = 0; i < values.size(); ++i) {
    values[i] = i % 2 == 0 ? -3.0F : 3.0F;
    CHECK(kernels::highest_of(values) == 3.0F);
    CHECK(kernels::highest_of(std::span(values).first(i)) == (i == 0 ? 0.0F : 0.5F));
    values[i] = 0.5F;
  }
}

TEST_CASE("kernels: a pole is the recursion that its comment says, at any length and in any pieces", "[sim]") {
  std::vector<float> input(100);
  for (std::size_t i = 0; i < input.size(); ++i) input[i] = static_cast<float>((i * 37 % 23)) - 11;
  for (const float keep : {0.0F, 1e-20F, 0.08F, 0.7F, 0.999F}) {
    for (std::size_t cut = 0; cut <= 50; ++cut) {
      kernels::Pole pole{keep, 0.3F, -0.1F, 2.0F, 5.0F};
      auto values = input;
      kernels::run(pole, std::span(values).first(cut));
      kernels::run(pole, std::span(values).subspan(cut));
      double last_in = 2, out = 5;
      for (std::size_t i = 0; i < input.size(); ++i) {
        const auto in = static_cast<double>(input[i]);
        out = double{keep} * out + double{0.3F} * in + double{-0.1F} * last_in;
        last_in = in;
        REQUIRE(static_cast<double>(values[i]) == Approx(out).margin(1e-5).epsilon(1e-5));
      }
      CHECK(pole.output == Approx(values.back()));
      CHECK(pole.input == input.back());
    }
  }
}

TEST_CASE("kernels: noise is added as the sum of four bytes of xorshift in each lane", "[sim]") {
  std::array<std::uint32_t, kernels::noise_lanes> state{};
  for (std::size_t i = 0; i < state.size(); ++i) state[i] = static_cast<std::uint32_t>(i * 7919 + 1);
  auto plain = state;
  std::vector<float> values(2 * kernels::noise_lanes, 1.0F);
  kernels::add_noise_of_4(state, values, 0.5F);
  for (std::size_t i = 0; i < values.size(); ++i) {
    std::uint32_t& x = plain[i % plain.size()];
    x ^= x << 13U;
    x ^= x >> 17U;
    x ^= x << 5U;
    const auto sum = static_cast<int>((x & 255U) + (x >> 8U & 255U) + (x >> 16U & 255U) + (x >> 24U));
    CHECK(values[i] == 1 + 0.5F * static_cast<float>(sum - 510));
  }
}

TEST_CASE("kernels: codes are rounded down, and held within eight bits", "[sim]") {
  std::vector<float> values{-0.25F, 0.0F, 0.75F, 1.0F, -1.5F, 126.9F, 127.5F, 1e9F, -127.5F, -128.5F, -1e9F, NAN};
  const std::vector<std::int8_t> right{-1, 0, 0, 1, -2, 126, 127, 127, -128, -128, -128, -128};
  while (values.size() < 40) values.push_back(0.5F);
  std::vector<std::int8_t> codes(values.size());
  kernels::to_codes(values, codes);
  for (std::size_t i = 0; i < codes.size(); ++i) CHECK(codes[i] == (i < right.size() ? right[i] : 0));
}
