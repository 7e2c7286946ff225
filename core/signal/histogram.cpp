// SPDX-License-Identifier: Apache-2.0
#include "core/signal/histogram.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstring>
#include <limits>

#include "core/base/error.hpp"

namespace eyelevel::signal {

namespace {

[[noreturn]] void refuse(std::string message) { throw base::Error(base::ErrorCode::bad_input, std::move(message)); }

constexpr std::size_t int8_codes = 256;
using ByteCounts = std::array<std::uint64_t, int8_codes>;  // by the code's bits

// Four tables, so that a run of equal codes does not wait for its own last increment.
void count_single(std::span<const std::int8_t> codes, ByteCounts& into) {
  std::array<std::array<std::uint32_t, int8_codes>, 4> tables{};
  std::size_t i = 0;
  for (; i + 4 <= codes.size(); i += 4) {
    for (std::size_t k = 0; k < 4; ++k) ++tables[k][static_cast<std::uint8_t>(codes[i + k])];
  }
  for (; i < codes.size(); ++i) ++tables[0][static_cast<std::uint8_t>(codes[i])];
  for (const auto& table : tables) {
    for (std::size_t code = 0; code < int8_codes; ++code) into[code] += table[code];
  }
}

// Long records are counted two samples at a time: half the increments, and an eye visits few of the 65536 pairs.
constexpr std::size_t pair_values = 65536;
constexpr std::size_t worth_pairing = 1 << 19;
constexpr std::size_t pairing_block = std::size_t{1} << 32;  // a 32-bit count cannot overflow within one block

void count_pairs(std::span<const std::int8_t> codes, ByteCounts& into) {
  std::vector<std::uint32_t> pairs(pair_values, 0);
  const std::int8_t* at = codes.data();
  std::size_t left = codes.size();
  constexpr std::size_t line = 64;
  for (; left >= line; at += line, left -= line) {
    // Increments all over the table keep the processor from seeing that the samples are read in order: without this a
    // record that is larger than the caches takes half as long again.
    constexpr std::size_t ahead = 4096;
    __builtin_prefetch(left > ahead ? at + ahead : at);
    for (std::size_t k = 0; k < line; k += 8) {
      std::uint64_t word = 0;
      std::memcpy(&word, at + k, sizeof word);
      ++pairs[word & 0xffff];
      ++pairs[(word >> 16) & 0xffff];
      ++pairs[(word >> 32) & 0xffff];
      ++pairs[word >> 48];
    }
  }
  for (std::size_t high = 0; high < int8_codes; ++high) {
    std::uint64_t row = 0;
    for (std::size_t low = 0; low < int8_codes; ++low) {
      const std::uint64_t both = pairs[high * int8_codes + low];
      into[low] += both;
      row += both;
    }
    into[high] += row;
  }
  count_single({at, left}, into);
}

CodeCounts trimmed(int lowest, std::vector<std::uint64_t> counts) {
  const auto used = [](std::uint64_t n) { return n > 0; };
  const auto first = std::find_if(counts.begin(), counts.end(), used);
  const auto last = std::find_if(counts.rbegin(), counts.rend(), used).base();
  return {lowest + static_cast<int>(first - counts.begin()), {first, last}};
}

template <class Code>
std::pair<Code, Code> smallest_and_largest(std::span<const Code> codes) {
  Code low = codes.front();
  Code high = codes.front();
  for (const Code code : codes) {
    low = code < low ? code : low;
    high = code > high ? code : high;
  }
  return {low, high};
}

void require_finite(std::span<const float> codes) {
  // One vectorised pass over the exponents; the place is looked for only when something is wrong.
  constexpr std::uint32_t exponent = 0x7f800000;
  bool strange = false;
  for (const float code : codes) strange |= (std::bit_cast<std::uint32_t>(code) & exponent) == exponent;
  if (!strange) return;
  for (std::size_t i = 0; i < codes.size(); ++i) {
    if (!std::isfinite(codes[i]))
      refuse(fmt::format("sample {} of {} is {}, not a voltage", i, codes.size(), codes[i]));
  }
}

void require_samples(const WaveformView& waveform) {
  if (waveform.size() == 0) refuse("waveform holds no samples");
  if (const auto* floats = std::get_if<std::span<const float>>(&waveform.codes)) require_finite(*floats);
}

template <class Code>
Histogram scaled_counts(std::span<const Code> codes, const WaveformView& waveform) {
  CodeCounts counted = count_codes(codes);
  Histogram result;
  result.total = codes.size();
  result.step_v = std::abs(waveform.scale_v);
  const bool rising = waveform.scale_v > 0;
  result.first_v = (rising ? counted.lowest : counted.highest()) * waveform.scale_v + waveform.offset_v;
  result.counts = std::move(counted.counts);
  if (!rising) std::reverse(result.counts.begin(), result.counts.end());
  return result;
}

Histogram binned(std::span<const float> codes, const WaveformView& waveform, std::size_t bins) {
  const auto [low, high] = smallest_and_largest(codes);
  const double a = static_cast<double>(low) * waveform.scale_v + waveform.offset_v;
  const double b = static_cast<double>(high) * waveform.scale_v + waveform.offset_v;
  const double low_v = std::min(a, b);
  const double width_v = std::max(a, b) - low_v;
  Histogram result;
  result.total = codes.size();
  if (!(width_v > 0)) return {low_v, 1, {result.total}, result.total};
  result.step_v = width_v / static_cast<double>(bins);
  result.first_v = low_v + result.step_v / 2;
  result.counts.assign(bins, 0);
  const double per_bin = static_cast<double>(bins) / width_v;
  for (const float code : codes) {
    const double place = (static_cast<double>(code) * waveform.scale_v + waveform.offset_v - low_v) * per_bin;
    ++result.counts[std::min(static_cast<std::size_t>(std::max(place, 0.0)), bins - 1)];
  }
  return result;
}

Summary summarise_floats(std::span<const float> codes, const WaveformView& waveform) {
  const auto [low, high] = smallest_and_largest(codes);
  const double n = static_cast<double>(codes.size());
  double sum = 0;
  for (const float code : codes) sum += static_cast<double>(code);
  const double mean = sum / n;
  double squares = 0;
  for (const float code : codes) squares += (static_cast<double>(code) - mean) * (static_cast<double>(code) - mean);
  const double a = static_cast<double>(low) * waveform.scale_v + waveform.offset_v;
  const double b = static_cast<double>(high) * waveform.scale_v + waveform.offset_v;
  return {codes.size(), std::min(a, b), std::max(a, b), mean * waveform.scale_v + waveform.offset_v,
          codes.size() > 1 ? std::sqrt(squares / (n - 1)) * std::abs(waveform.scale_v) : 0};
}

}  // namespace

CodeCounts count_codes(std::span<const std::int8_t> codes) {
  if (codes.empty()) refuse("waveform holds no samples");
  ByteCounts by_bits{};
  while (!codes.empty()) {
    const auto part = codes.first(std::min(codes.size(), pairing_block));
    part.size() < worth_pairing ? count_single(part, by_bits) : count_pairs(part, by_bits);
    codes = codes.subspan(part.size());
  }
  std::vector<std::uint64_t> by_code(int8_codes);
  for (std::size_t i = 0; i < int8_codes; ++i) by_code[i] = by_bits[(i + int8_codes / 2) % int8_codes];
  return trimmed(std::numeric_limits<std::int8_t>::min(), std::move(by_code));
}

CodeCounts count_codes(std::span<const std::int16_t> codes) {
  if (codes.empty()) refuse("waveform holds no samples");
  const auto [low, high] = smallest_and_largest(codes);
  CodeCounts result{low, std::vector<std::uint64_t>(static_cast<std::size_t>(high - low) + 1, 0)};
  for (const std::int16_t code : codes) ++result.counts[static_cast<std::size_t>(code - low)];
  return result;
}

Histogram histogram(const WaveformView& waveform, std::size_t bins) {
  require_samples(waveform);
  if (bins == 0) refuse("histogram of 0 bins: at least one is needed");
  if (const auto* codes = std::get_if<std::span<const std::int8_t>>(&waveform.codes)) {
    return scaled_counts(*codes, waveform);
  }
  if (const auto* codes = std::get_if<std::span<const std::int16_t>>(&waveform.codes)) {
    return scaled_counts(*codes, waveform);
  }
  return binned(std::get<std::span<const float>>(waveform.codes), waveform, bins);
}

Summary summarise(const WaveformView& waveform) {
  require_samples(waveform);
  if (const auto* codes = std::get_if<std::span<const float>>(&waveform.codes)) {
    return summarise_floats(*codes, waveform);
  }
  return summarise(histogram(waveform));
}

Summary summarise(const Histogram& histogram) {
  if (histogram.total == 0) refuse("histogram holds no samples");
  // Bins are counted from the middle of the range, so that the sums stay small and the squares exact for 8-bit codes.
  const double n = static_cast<double>(histogram.total);
  const double middle = std::floor(static_cast<double>(histogram.counts.size()) / 2);
  double sum = 0;
  double squares = 0;
  for (std::size_t i = 0; i < histogram.counts.size(); ++i) {
    const double x = static_cast<double>(i) - middle;
    sum += x * static_cast<double>(histogram.counts[i]);
    squares += x * x * static_cast<double>(histogram.counts[i]);
  }
  const double about_mean = std::max(0.0, squares - sum * sum / n);
  return {histogram.total, histogram.first_v, histogram.centre_v(histogram.counts.size() - 1),
          histogram.first_v + (middle + sum / n) * histogram.step_v,
          histogram.total > 1 ? std::sqrt(about_mean / (n - 1)) * histogram.step_v : 0};
}

double quantile_v(const Histogram& histogram, double p) {
  if (histogram.total == 0) refuse("histogram holds no samples");
  if (!(p >= 0 && p <= 1)) refuse(fmt::format("quantile at {}, expected 0 to 1", p));
  const double wanted = p * static_cast<double>(histogram.total);
  double below = 0;
  for (std::size_t i = 0; i < histogram.counts.size(); ++i) {
    const double here = static_cast<double>(histogram.counts[i]);
    if (here > 0 && below + here >= wanted) {
      return histogram.low_edge_v() + (static_cast<double>(i) + (wanted - below) / here) * histogram.step_v;
    }
    below += here;
  }
  return histogram.low_edge_v() + static_cast<double>(histogram.counts.size()) * histogram.step_v;
}

double clipped_share(const WaveformView& waveform) {
  if (waveform.size() == 0) refuse("waveform holds no samples");
  const auto share_beyond = [](const auto& codes, double low, double high) {
    std::size_t beyond = 0;
    for (const auto code : codes) {
      const double value = static_cast<double>(code);
      beyond += static_cast<std::size_t>(value <= low) + static_cast<std::size_t>(value >= high);
    }
    return static_cast<double>(beyond) / static_cast<double>(codes.size());
  };
  return std::visit(
      [&](const auto& codes) -> double {
        using Code = std::remove_cv_t<typename std::remove_cvref_t<decltype(codes)>::element_type>;
        if (waveform.screen) {
          // A thousandth of a step (floats: a millionth of the screen) is given way to, so that rounding hides nothing
          // clipped.
          const double a = (waveform.screen->low_v - waveform.offset_v) / waveform.scale_v;
          const double b = (waveform.screen->high_v - waveform.offset_v) / waveform.scale_v;
          const double slack = std::is_integral_v<Code> ? 1e-3 : 1e-6 * std::abs(b - a);
          return share_beyond(codes, std::min(a, b) + slack, std::max(a, b) - slack);
        }
        if constexpr (std::is_integral_v<Code>) {
          return share_beyond(codes, std::numeric_limits<Code>::min(), std::numeric_limits<Code>::max());
        }
        return 0;
      },
      waveform.codes);
}

}  // namespace eyelevel::signal
