// SPDX-License-Identifier: Apache-2.0
// Levels and histogram of int8 samples against reading the same buffer once (a sum of its bytes, which the compiler
// vectorises). The target is meant for a buffer far larger than the caches; the short one shows what remains when the
// plain read needs no memory. Samples wander like a wave with noise.
#include <fmt/format.h>

#include <cmath>
#include <numeric>

#include "core/base/random.hpp"
#include "core/signal/histogram.hpp"
#include "tests/speed/speed.hpp"

namespace eyelevel::speed {

namespace {

std::vector<std::int8_t> record(std::size_t size) {
  base::Random random(1, "speed");
  constexpr std::size_t period = 1 << 20;
  std::vector<std::int8_t> codes(size);
  for (std::size_t i = 0; i < std::min(period, size); ++i) {
    codes[i] =
        static_cast<std::int8_t>(std::lround(70 * std::sin(static_cast<double>(i) * 0.31) + 8 * random.normal()));
  }
  for (std::size_t i = period; i < size; ++i) codes[i] = codes[i - period];
  return codes;
}

std::int64_t plain_read(const std::vector<std::int8_t>& codes) {
  constexpr std::size_t block = 1 << 16;  // its sum fits into 32 bits
  std::int64_t sum = 0;
  for (std::size_t from = 0; from < codes.size(); from += block) {
    const std::size_t until = std::min(codes.size(), from + block);
    std::int32_t part = 0;
    for (std::size_t i = from; i < until; ++i) part += codes[i];
    sum += part;
  }
  return sum;
}

void measure(Table& table, std::size_t size, const char* label, int rounds) {
  const std::vector<std::int8_t> codes = record(size);
  const signal::WaveformView view{std::span<const std::int8_t>(codes), 20e6, 0.01, 0, std::nullopt};
  std::int64_t sum = 0;
  signal::Histogram histogram;
  signal::Summary summary;
  const Pair best = shortest_of_both(
      rounds, [&] { sum = plain_read(codes); },
      [&] {
        histogram = signal::histogram(view);
        summary = signal::summarise(histogram);
      });
  const double n = static_cast<double>(size);
  require(std::abs(summary.mean_v - 0.01 * static_cast<double>(sum) / n) < 1e-9, "mean of int8 samples");
  require(std::accumulate(histogram.counts.begin(), histogram.counts.end(), std::uint64_t{0}) == size, "histogram");
  table.add(
      {fmt::format("histogram, smallest, largest, mean and sd of {} int8 samples", label),
       "one plain read of the same buffer", best.second_s / best.first_s, "x its time", 2, 3, true,
       fmt::format("{:.2f} against {:.2f} billion samples a second", n / best.second_s / 1e9, n / best.first_s / 1e9)});
}

}  // namespace

void signal_speed(Table& table) {
  measure(table, std::size_t{64} << 20, "67 million", 7);
  measure(table, std::size_t{1} << 20, "a million (held in the cache)", 50);
}

}  // namespace eyelevel::speed
