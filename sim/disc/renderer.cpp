// SPDX-License-Identifier: Apache-2.0
#include "sim/disc/renderer.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/disc/kernels.hpp"
#include "sim/disc/optics.hpp"

namespace eyelevel::sim {
namespace {

constexpr double rows_per_t = 64;        // of the table; between rows the response is a straight line
constexpr double fine_steps_per_t = 64;  // of the response the rows are read from
constexpr double rate_tolerance = 3e-4;  // how far a row's rate may be off: 1e-4 of full scale one sigma from the edge
constexpr double steepest_t = 0.02;      // least blur

// Normal quantiles of 4096 equal shares.
const std::array<float, 4096>& quantiles() {
  static const auto table = [] {
    std::array<float, 4096> made{};
    for (std::size_t i = 0; i < made.size(); ++i) {
      const double p = (static_cast<double>(i) + 0.5) / static_cast<double>(made.size());
      double low = -5, high = 5;
      for (int k = 0; k < 50; ++k) {
        const double middle = 0.5 * (low + high);
        (0.5 * std::erfc(-middle / std::sqrt(2.0)) < p ? low : high) = middle;
      }
      made[i] = static_cast<float>(0.5 * (low + high));
    }
    return made;
  }();
  return table;
}

// A normal number that belongs to one bit of one seed: the sum of two quantiles drawn by a hash.
double normal_of(std::uint64_t seed, std::int64_t bit) {
  std::uint64_t z = seed + static_cast<std::uint64_t>(bit) * 0x9E3779B97F4A7C15U;
  z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9U;
  z = (z ^ (z >> 27U)) * 0x94D049BB133111EBU;
  z ^= z >> 31U;
  const auto& table = quantiles();
  constexpr double per_square_root = 0.70710678118654752;
  return (double{table[z & 4095U]} + double{table[z >> 12U & 4095U]}) * per_square_root;
}

// Where a place lies, in samples after the first; the solution of Sampling::place near it.
double sample_of(const Sampling& sampling, double bit) {
  const double distance = bit - sampling.start_bit;
  const double b = sampling.bits_per_sample;
  if (sampling.change == 0) return distance / b;
  return 2 * distance / (b + std::sqrt(std::max(0.0, b * b + 2 * sampling.change * distance)));
}

// Two tables of normal numbers, each with mean 0 and variance 1 exactly; the tail repeats the head.
struct NoiseTables {
  static constexpr std::size_t size = 65536, block = 1024;
  std::array<std::vector<float>, 2> entries;
  NoiseTables() {
    base::Random random(0x5EED, "noise tables");
    for (auto& table : entries) {
      std::vector<double> numbers(size);
      double sum = 0, squares = 0;
      for (auto& x : numbers) sum += x = random.normal();
      for (auto& x : numbers) {
        x -= sum / size;
        squares += x * x;
      }
      const double scale = 1 / std::sqrt(squares / size);
      table.resize(size + block);
      for (std::size_t i = 0; i < table.size(); ++i) table[i] = static_cast<float>(numbers[i % size] * scale);
    }
  }
};

}  // namespace

EyeRenderer::EyeRenderer(const EyeShape& shape) : shape_(shape) {
  shape_.sigma_t = std::max(shape_.sigma_t, steepest_t);
  reach_t_ = blur_reach * shape_.sigma_t;
  const auto steps = static_cast<std::size_t>(std::ceil(2 * reach_t_ * fine_steps_per_t)) + 2;
  response_.resize(steps);
  for (std::size_t i = 0; i < steps; ++i)
    response_[i] =
        static_cast<float>(edge_response(static_cast<double>(i) / fine_steps_per_t - reach_t_, shape_.sigma_t));
}

double EyeRenderer::place_of_edge(std::int64_t bit, bool to_land) const {
  double place = static_cast<double>(bit) + (to_land ? 0.5 : -0.5) * shape_.pit_lengthening_t;
  if (shape_.edge_jitter_t > 0) place += shape_.edge_jitter_t * normal_of(shape_.jitter_seed, bit);
  return place;
}

// Row p holds the response at samples (i + p / phases_) after the point reach_t before the edge.
void EyeRenderer::make_table(double bits_per_sample) {
  table_rate_ = bits_per_sample;
  table_length_ = static_cast<std::size_t>(std::ceil(2 * reach_t_ / bits_per_sample)) + 1;
  phases_ = std::max<std::size_t>(1, static_cast<std::size_t>(std::ceil(rows_per_t * bits_per_sample)));
  table_.resize((phases_ + 1) * table_length_);
  const double last = static_cast<double>(response_.size() - 2);
  for (std::size_t p = 0; p <= phases_; ++p)
    for (std::size_t i = 0; i < table_length_; ++i) {
      const double offset = static_cast<double>(i) + static_cast<double>(p) / static_cast<double>(phases_);
      const double at = std::min(offset * bits_per_sample * fine_steps_per_t, last);
      const auto index = static_cast<std::size_t>(at);
      const auto share = static_cast<float>(at - static_cast<double>(index));
      table_[p * table_length_ + i] = response_[index] + share * (response_[index + 1] - response_[index]);
    }
}

void EyeRenderer::render_block(const EdgeWindow& window, const Sampling& sampling, std::span<float> out) {
  const auto count = static_cast<std::ptrdiff_t>(out.size());
  const double before = reach_t_ / table_rate_;  // samples from the beginning of a row to its edge
  const auto length = static_cast<std::ptrdiff_t>(table_length_);
  // Edges that are over before the first sample only set the level.
  const double begin_bit = sampling.start_bit - reach_t_ - 1 - static_cast<double>(window.first_bit);
  const auto first_edge =
      std::ranges::lower_bound(window.edges, begin_bit, {}, [](std::int32_t e) { return double(e); });
  bool land = window.land_before != ((first_edge - window.edges.begin()) % 2 != 0);
  std::ptrdiff_t filled = 0;
  for (auto edge = first_edge; edge != window.edges.end(); ++edge) {
    const double place = place_of_edge(window.first_bit + *edge, !land);
    const double start = sample_of(sampling, place) - before;
    const double first_sample = std::ceil(start);
    if (first_sample >= static_cast<double>(count)) break;
    const auto first = static_cast<std::ptrdiff_t>(first_sample);
    const std::ptrdiff_t end = std::min(first + length, count);
    // All samples up to the end of this edge begin at the level before it.
    if (end > filled) std::fill(out.begin() + filled, out.begin() + end, land ? 1.0F : -1.0F);
    filled = std::max(filled, end);
    if (end > 0) {
      const double phase = (first_sample - start) * static_cast<double>(phases_);
      const auto row = std::min(static_cast<std::size_t>(phase), phases_ - 1);
      const std::ptrdiff_t skip = std::max<std::ptrdiff_t>(0, -first);
      const float* from = table_.data() + row * table_length_ + static_cast<std::size_t>(skip);
      kernels::add_scaled_rows(
          out.subspan(static_cast<std::size_t>(first + skip), static_cast<std::size_t>(end - first - skip)), from,
          from + table_length_, static_cast<float>(phase - static_cast<double>(row)), land ? -2.0F : 2.0F);
    }
    land = !land;
  }
  std::fill(out.begin() + filled, out.end(), land ? 1.0F : -1.0F);
}

void EyeRenderer::render(const EdgeWindow& window, const Sampling& sampling, std::span<float> out) {
  // Where the rate changes, the record is cut into pieces that one table serves.
  const double drift = std::abs(sampling.change) * static_cast<double>(out.size());
  const auto pieces = 1 + static_cast<std::size_t>(drift / (rate_tolerance * sampling.bits_per_sample));
  for (std::size_t piece = 0; piece < pieces; ++piece) {
    const std::size_t from = out.size() * piece / pieces, until = out.size() * (piece + 1) / pieces;
    if (from == until) continue;
    Sampling part = sampling;
    part.start_bit = sampling.place(static_cast<double>(from));
    part.bits_per_sample = sampling.bits_per_sample + sampling.change * static_cast<double>(from);
    const double middle_rate = part.bits_per_sample + 0.5 * sampling.change * static_cast<double>(until - from);
    if (std::abs(table_rate_ - middle_rate) > 0.3 * rate_tolerance * middle_rate) make_table(middle_rate);
    render_block(window, part, out.subspan(from, until - from));
  }
}

void EyeRenderer::render(ChannelStream& stream, const Sampling& sampling, std::span<float> out) {
  if (out.empty()) return;
  const double margin = reach_t_ + 2;
  const double last = sampling.place(static_cast<double>(out.size() - 1));
  stream.edges(static_cast<std::int64_t>(std::floor(sampling.start_bit - margin)),
               static_cast<std::int64_t>(std::ceil(last + margin)), window_);
  render(window_, sampling, out);
}

void add_noise(std::span<float> samples, double sigma, base::Random& random) {
  static const NoiseTables tables;
  const auto scale = static_cast<float>(sigma * 0.70710678118654752);
  for (std::size_t from = 0; from < samples.size(); from += NoiseTables::block) {
    const std::uint64_t draw = random.bits();
    const float* a = tables.entries[0].data() + (draw & (NoiseTables::size - 1));
    const float* b = tables.entries[1].data() + (draw >> 32U & (NoiseTables::size - 1));
    float* out = samples.data() + from;
    const std::size_t count = std::min(NoiseTables::block, samples.size() - from);
    for (std::size_t i = 0; i < count; ++i) out[i] += scale * (a[i] + b[i]);
  }
}

}  // namespace eyelevel::sim
