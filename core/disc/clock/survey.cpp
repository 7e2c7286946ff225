// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/survey.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <span>

#include "core/disc/clock/kernels.hpp"

namespace eyelevel::disc::clock {
namespace {

constexpr double block_s = 34e-6;         // a quarter of a channel frame at 1x: some thirty runs, long ones among them
constexpr std::size_t block_least = 64;   // one word of the slicer
constexpr std::size_t picks_most = 4096;  // samples looked at for the noise

double nth(std::vector<double>& values, std::size_t at) {
  const auto place = values.begin() + static_cast<std::ptrdiff_t>(at);
  std::nth_element(values.begin(), place, values.end());
  return *place;
}

// The same, none of them negative: most are only counted, and those of one bin are sorted.
double nth_of_many(std::vector<double>& values, std::size_t at) {
  constexpr std::size_t bins = 512;
  const double highest = *std::max_element(values.begin(), values.end());
  if (!(highest > 0) || !std::isfinite(highest)) return nth(values, at);
  const double to_bin = (bins - 1) / highest;
  std::array<std::uint32_t, bins> counts{};
  for (const double v : values) ++counts[static_cast<std::size_t>(static_cast<std::int32_t>(v * to_bin))];
  std::size_t bin = 0;
  for (; at >= counts[bin]; ++bin) at -= counts[bin];
  std::erase_if(values,
                [&](double v) { return static_cast<std::size_t>(static_cast<std::int32_t>(v * to_bin)) != bin; });
  return nth(values, at);
}

double quantile(std::vector<double> values, double q) {
  if (values.empty()) return 0;
  return nth(values, static_cast<std::size_t>(q * static_cast<double>(values.size() - 1)));
}

// Median of the absolute second differences at evenly spaced places.
template <class T>
double median_bend(std::span<const T> x) {
  const std::size_t step = std::max<std::size_t>(1, x.size() / picks_most);
  const auto bend = [&](std::size_t i) {
    return std::abs(static_cast<double>(x[i - 1]) - 2 * static_cast<double>(x[i]) + static_cast<double>(x[i + 1]));
  };
  if constexpr (sizeof(T) == 1) {  // few values: counted, not sorted
    std::array<std::uint32_t, 512> counts{};
    std::uint32_t left = 0;
    for (std::size_t i = 1; i + 1 < x.size(); i += step, ++left) ++counts[static_cast<std::size_t>(bend(i))];
    left = (left + 1) / 2;
    std::size_t median = 0;
    while (counts[median] < left) left -= counts[median++];
    return static_cast<double>(median);
  }
  std::vector<double> bends;
  bends.reserve(picks_most + 2);
  for (std::size_t i = 1; i + 1 < x.size(); i += step) bends.push_back(bend(i));
  return bends.empty() ? 0 : nth_of_many(bends, (bends.size() - 1) / 2);
}

// Of Gaussian noise the median is 0.6745 sqrt(6) of its standard deviation.
template <class T>
double noise_of(std::span<const T> x) {
  return median_bend(x) / (0.6745 * std::sqrt(6.0));
}

// Focus goes slowly: what is on its way down or up again belongs to the fault.
void grow_to_full_height(const Survey& s, const std::vector<double>& heights, std::vector<std::uint8_t>& dimmed) {
  constexpr double full = 0.96;
  constexpr std::size_t most = 100;  // blocks, 3.4 ms
  if (std::find(dimmed.begin(), dimmed.end(), 1) == dimmed.end()) return;
  std::vector<double> open;
  for (std::size_t i = 0; i < heights.size(); ++i) {
    if (dimmed[i] == 0) open.push_back(heights[i]);
  }
  const double usual = open.empty() ? s.amplitude : quantile(std::move(open), 0.5);
  const auto grow = [&](auto next) {
    std::size_t left = 0;
    for (std::size_t step = 0; step < heights.size(); ++step) {
      const std::size_t i = next(step);
      if (dimmed[i] == 1) {
        left = most;
      } else if (left > 0 && heights[i] < full * usual) {
        dimmed[i] = 2;  // not itself a place to grow from
        --left;
      } else {
        left = 0;
      }
    }
  };
  grow([](std::size_t step) { return step; });
  grow([&](std::size_t step) { return heights.size() - 1 - step; });
}

// A block is low below three quarters of the median around it, or below half of the usual height.
std::vector<std::uint8_t> dimmed_blocks(const Survey& s, const std::vector<double>& heights) {
  constexpr std::size_t reach = 10;  // blocks to either side that are the surroundings: a spot of 0.3 mm covers seven
  constexpr double part = 0.75, usual_part = 0.5;
  const std::size_t n = heights.size();
  const double highest = *std::max_element(heights.begin(), heights.end());
  const double surely_open = std::max(part * highest, usual_part * s.amplitude);
  std::vector<std::uint8_t> low(n), dimmed(n);
  for (std::size_t i = 0; i < n; ++i) {
    if (heights[i] >= surely_open) continue;
    const std::size_t from = i < reach ? 0 : i - reach, to = std::min(n, i + reach + 1);
    const double around = quantile(
        {heights.begin() + static_cast<std::ptrdiff_t>(from), heights.begin() + static_cast<std::ptrdiff_t>(to)}, 0.5);
    low[i] = heights[i] < std::max(part * around, usual_part * s.amplitude) ? 1 : 0;
  }
  if (n > 1 && s.samples % s.block != 0) low[n - 1] = low[n - 2];  // too short to be judged by itself
  for (std::size_t i = 0; i < n; ++i) {
    const bool left = i > 0 && low[i - 1] != 0, right = i + 1 < n && low[i + 1] != 0;
    dimmed[i] = low[i] != 0 || left || right ? 1 : 0;
  }
  grow_to_full_height(s, heights, dimmed);
  return dimmed;
}

template <class T>
Survey survey_of(std::span<const T> x, double rate_hz, double amplitude_least) {
  Survey s;
  s.samples = x.size();
  s.block = std::min(block_samples(rate_hz), std::max(block_least, x.size() / 4 / block_least * block_least));
  const std::size_t blocks = (x.size() + s.block - 1) / s.block;
  for (auto* of_blocks : {&s.block_low, &s.block_high, &s.block_sum}) of_blocks->reserve(blocks);
  for (std::size_t i = 0; i < x.size(); i += s.block) {
    const auto part = kernels::block_sums(x.subspan(i, std::min(s.block, x.size() - i)));
    s.block_low.push_back(static_cast<double>(part.low));
    s.block_high.push_back(static_cast<double>(part.high));
    s.block_sum.push_back(part.sum);
  }
  s.low = *std::min_element(s.block_low.begin(), s.block_low.end());
  s.high = *std::max_element(s.block_high.begin(), s.block_high.end());
  std::vector<double> heights;
  heights.reserve(s.block_low.size());
  for (std::size_t i = 0; i < s.block_low.size(); ++i) heights.push_back(s.block_amplitude(i));
  s.amplitude = std::max(quantile(heights, 0.9), amplitude_least);
  s.block_dimmed = dimmed_blocks(s, heights);
  s.noise = noise_of(x);
  return s;
}

}  // namespace

double Survey::share_between() const {
  std::size_t between = 0, all = 0;
  for (std::size_t i = 0; i < block_low.size(); ++i) {
    if ((i + 1) * block > samples) continue;
    const double height = block_amplitude(i);
    ++all;
    if (height > 0.2 * amplitude && height < 0.6 * amplitude) ++between;
  }
  return all == 0 ? 0 : static_cast<double>(between) / static_cast<double>(all);
}

std::size_t block_samples(double rate_hz) {
  if (!(rate_hz > 0)) return block_least;
  constexpr double most = 1 << 18;  // a quarter of the longest window
  const double wanted = std::clamp(rate_hz * block_s, static_cast<double>(block_least), most);
  return static_cast<std::size_t>(wanted) / block_least * block_least;
}

Survey survey(const signal::CodesView& codes, double rate_hz, double amplitude_least) {
  return std::visit([&](const auto& x) { return survey_of(x, rate_hz, amplitude_least); }, codes);
}

AtRails at_rails(const signal::CodesView& codes, double low, double high) {
  return std::visit(
      [&](const auto& x) {
        AtRails count;
        for (const auto value : x) {
          count.low += static_cast<double>(value) <= low ? 1 : 0;
          count.high += static_cast<double>(value) >= high ? 1 : 0;
        }
        return count;
      },
      codes);
}

std::size_t no_numbers(const signal::CodesView& codes) {
  const auto* floats = std::get_if<std::span<const float>>(&codes);
  if (floats == nullptr) return 0;
  std::size_t count = 0;
  for (const float x : *floats) count += std::isfinite(x) ? 0 : 1;
  return count;
}

std::optional<std::vector<float>> with_finite_samples(const signal::CodesView& codes) {
  if (no_numbers(codes) == 0) return std::nullopt;
  const auto& floats = std::get<std::span<const float>>(codes);
  std::vector<float> clean(floats.begin(), floats.end());
  const auto first = std::find_if(clean.begin(), clean.end(), [](float x) { return std::isfinite(x); });
  float last = first == clean.end() ? 0.0F : *first;
  for (float& x : clean) {
    if (!std::isfinite(x)) x = last;
    last = x;
  }
  return clean;
}

}  // namespace eyelevel::disc::clock
