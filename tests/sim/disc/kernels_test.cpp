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
