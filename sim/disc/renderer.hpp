// SPDX-License-Identifier: Apache-2.0
// Edges to samples: the normalised signal of a channel stream, +1 for a settled land and -1 for a settled pit. Each
// edge is a blurred step; samples are sums over the edges near them, from tables of one response a fraction of a sample
// apart. Not for volts, light, defocus: the player scales and offsets. Time is counted in channel bits (T). Rendering
// twice gives the same samples: edge jitter hangs on the number of the bit, not on what was drawn before. One renderer
// belongs to one thread.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "core/base/random.hpp"
#include "sim/disc/channel_stream.hpp"

namespace eyelevel::sim {

// The place of sample i: start_bit + bits_per_sample * i + change * i^2 / 2. The rate must stay above zero.
struct Sampling {
  double start_bit = 0;
  double bits_per_sample = 0.216;  // 4.3218 Mbit/s at 20 MSa/s
  double change = 0;               // of bits_per_sample, per sample
  double place(double sample) const { return start_bit + sample * (bits_per_sample + 0.5 * change * sample); }
};

struct EyeShape {
  double sigma_t = 1.3;          // blur of an edge; optics.hpp
  double pit_lengthening_t = 0;  // asymmetry; optics.hpp
  double edge_jitter_t = 0;      // standard deviation of one edge; a run's is sqrt 2 times it
  std::uint64_t jitter_seed = 1;
};

class EyeRenderer {
 public:
  explicit EyeRenderer(const EyeShape& shape);

  const EyeShape& shape() const { return shape_; }
  double reach_t() const { return reach_t_; }  // how far an edge is felt
  // Renders `out.size()` samples. Cost: about 2 ns a sample at 4.6 samples per T, 0.7 ns at 23 (2.5 and 0.8 with
  // jitter).
  void render(ChannelStream& stream, const Sampling& sampling, std::span<float> out);
  // The same from edges at hand; they must cover the samples and reach_t() + 1 beyond on either side.
  void render(const EdgeWindow& window, const Sampling& sampling, std::span<float> out);

 private:
  void make_table(double bits_per_sample);
  void render_block(const EdgeWindow& window, const Sampling& sampling, std::span<float> out);
  double place_of_edge(std::int64_t bit, bool to_land) const;

  EyeShape shape_;
  double reach_t_;
  std::vector<float> response_;   // of one edge, in fine steps
  double table_rate_ = 0;         // bits per sample the table was made for
  std::size_t phases_ = 1;        // rows of the table, a fraction of a sample apart, and one more
  std::size_t table_length_ = 0;  // samples a row
  std::vector<float> table_;
  EdgeWindow window_;
};

// Adds Gaussian noise, white over the sampling rate. Draws a few numbers from `random` per 1024 samples. Each sample is
// the sum of two entries of a table of 65 536 normal numbers, read from random places: exact to 4 standard deviations
// and beyond, mean and variance over long records those of independent numbers.
void add_noise(std::span<float> samples, double sigma, base::Random& random);

}  // namespace eyelevel::sim
