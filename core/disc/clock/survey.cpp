// SPDX-License-Identifier: Apache-2.0
#include "core/disc/clock/survey.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <span>
#include <type_traits>

namespace eyelevel::disc::clock {
namespace {

constexpr double block_s = 34e-6;         // a quarter of a channel frame at 1x: some thirty runs, long ones among them
constexpr std::size_t block_least = 64;   // one word of the slicer
constexpr std::size_t picks_most = 4096;  // samples looked at for the noise

double quantile(std::vector<double> values, double q) {
  if (values.empty()) return 0;
  const auto at = static_cast<std::ptrdiff_t>(q * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + at, values.end());
  return values[static_cast<std::size_t>(at)];
}

template <class T>
struct BlockSums {
  T low, high;
  double sum;
};

template <class T>
BlockSums<T> sums_of(std::span<const T> x) {
  using Sum = std::conditional_t<std::is_floating_point_v<T>, double, std::int32_t>;  // 65536 samples of 16 bits fit
  T low = x[0], high = x[0];
  double total = 0;
  for (std::size_t i = 0; i < x.size();) {
    const std::size_t end = std::min(x.size(), i + 32768);
    Sum sum = 0;
    for (; i < end; ++i) {
      low = x[i] < low ? x[i] : low;
      high = x[i] > high ? x[i] : high;
      sum += x[i];
    }
    total += static_cast<double>(sum);
  }
  return {low, high, total};
}

// Median of the absolute second difference of Gaussian noise is 0.6745 sqrt(6) of its standard deviation.
template <class T>
double noise_of(std::span<const T> x) {
  const std::size_t step = std::max<std::size_t>(1, x.size() / picks_most);
  std::vector<double> bends;
  bends.reserve(picks_most + 2);
  for (std::size_t i = 1; i + 1 < x.size(); i += step) {
    bends.push_back(
        std::abs(static_cast<double>(x[i - 1]) - 2 * static_cast<double>(x[i]) + static_cast<double>(x[i + 1])));
  }
  return quantile(std::move(bends), 0.5) / (0.6745 * std::sqrt(6.0));
}

template <class T>
Survey survey_of(std::span<const T> x, double rate_hz) {
  Survey s;
  s.samples = x.size();
  const double wanted = std::clamp(rate_hz * block_s, 1.0, static_cast<double>(x.size()) / 4);
  s.block = std::max(block_least, static_cast<std::size_t>(wanted) / block_least * block_least);
  double sum = 0;
  for (std::size_t i = 0; i < x.size(); i += s.block) {
    const auto part = sums_of(x.subspan(i, std::min(s.block, x.size() - i)));
    s.block_low.push_back(static_cast<double>(part.low));
    s.block_high.push_back(static_cast<double>(part.high));
    sum += part.sum;
  }
  s.mean = sum / static_cast<double>(x.size());
  s.low = *std::min_element(s.block_low.begin(), s.block_low.end());
  s.high = *std::max_element(s.block_high.begin(), s.block_high.end());
  std::vector<double> heights;
  for (std::size_t i = 0; i < s.block_low.size(); ++i) heights.push_back(s.block_amplitude(i));
  s.amplitude = quantile(std::move(heights), 0.9);
  s.noise = noise_of(x);
  return s;
}

}  // namespace

std::vector<bool> Survey::dimmed_blocks() const {
  constexpr std::size_t reach = 20;  // blocks to either side that are the surroundings
  const std::size_t n = block_low.size();
  std::vector<bool> low_blocks(n), dimmed(n);
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t from = i < reach ? 0 : i - reach, to = std::min(n, i + reach + 1);
    std::vector<double> around;
    for (std::size_t k = from; k < to; ++k) around.push_back(block_amplitude(k));
    low_blocks[i] = block_amplitude(i) < std::max(0.85 * quantile(std::move(around), 0.5), 0.6 * amplitude);
  }
  if (n > 1 && samples % block != 0) low_blocks[n - 1] = low_blocks[n - 2];  // too short to be judged by itself
  for (std::size_t i = 0; i < n; ++i) {
    dimmed[i] = low_blocks[i] || (i > 0 && low_blocks[i - 1]) || (i + 1 < n && low_blocks[i + 1]);
  }
  return dimmed;
}

double Survey::share_between() const {
  std::size_t between = 0, all = 0;
  for (std::size_t i = 0; i < block_low.size(); ++i) {
    if ((i + 1) * block > samples) continue;
    const double height = block_amplitude(i);
    ++all;
    if (height > 0.2 * amplitude && height < 0.8 * amplitude) ++between;
  }
  return all == 0 ? 0 : static_cast<double>(between) / static_cast<double>(all);
}

Survey survey(const signal::CodesView& codes, double rate_hz) {
  return std::visit([&](const auto& x) { return survey_of(x, rate_hz); }, codes);
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

std::optional<std::vector<float>> with_finite_samples(const signal::CodesView& codes, std::size_t& replaced) {
  replaced = 0;
  const auto* floats = std::get_if<std::span<const float>>(&codes);
  if (floats == nullptr) return std::nullopt;
  for (const float x : *floats) replaced += std::isfinite(x) ? 0 : 1;
  if (replaced == 0) return std::nullopt;
  std::vector<float> clean(floats->begin(), floats->end());
  const auto first = std::find_if(clean.begin(), clean.end(), [](float x) { return std::isfinite(x); });
  float last = first == clean.end() ? 0.0F : *first;
  for (float& x : clean) {
    if (!std::isfinite(x)) x = last;
    last = x;
  }
  return clean;
}

}  // namespace eyelevel::disc::clock
