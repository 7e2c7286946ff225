// SPDX-License-Identifier: Apache-2.0
#include "tests/support/eye_renderer.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "core/base/random.hpp"
#include "core/disc/circ/encoder.hpp"
#include "core/disc/efm/merging.hpp"
#include "core/disc/subcode/q.hpp"

namespace eyelevel::support {
namespace {

class EyeRenderer {
 public:
  explicit EyeRenderer(const EyeSettings& settings)
      : s_(settings),
        bits_(static_cast<int>((s_.start_bit + s_.channel_rate_hz * s_.duration_s * 1.1) / disc::efm::frame_bits) + 4,
              s_),
        nominal_(bits_.at()),
        edges_(nominal_) {
    base::Random jitter(s_.seed, "edges");
    for (std::size_t k = 0; k < edges_.size(); ++k) {
      edges_[k] += jitter.normal(0, s_.edge_jitter_t) + (k % 2 == 0 ? 0.5 : -0.5) * s_.pit_longer_t;
    }
  }

  Eye render() {
    Eye eye;
    eye.rate_hz = s_.rate_hz;
    const auto n = static_cast<std::size_t>(s_.rate_hz * s_.duration_s);
    eye.volts.resize(n);
    base::Random noise(s_.seed, "noise");
    double bit = s_.start_bit, sum = 0;
    const double dt = 1 / s_.rate_hz;
    for (std::size_t i = 0; i < n; ++i) {
      const double t = static_cast<double>(i) * dt;
      const double clean = volts_at(bit, t);
      sum += clean;
      eye.volts[i] = static_cast<float>(clean + noise.normal(0, s_.noise_v));
      last_bit_ = bit;
      bit += s_.channel_rate_hz * dt * (1 + s_.rate_change(t));
    }
    eye.truth = truth(static_cast<double>(n) * dt);
    eye.truth.mean_v = sum / static_cast<double>(n);
    return eye;
  }

 private:
  // Share of full land at a place on the channel-bit scale; starts as pit before the first edge.
  double reflected(double bit) {
    const double reach = 6 * s_.blur_t + 1;
    while (low_ < edges_.size() && edges_[low_] < bit - reach) ++low_;
    while (low_ > 0 && edges_[low_ - 1] >= bit - reach) --low_;
    double share = low_ % 2 == 0 ? 0 : 1;
    for (std::size_t k = low_; k < edges_.size() && edges_[k] < bit + reach; ++k) {
      const double step = 0.5 * std::erfc((edges_[k] - bit) / (s_.blur_t * std::sqrt(2.0)));
      share += k % 2 == 0 ? step : -step;
    }
    return share;
  }

  double volts_at(double bit, double t) {
    const double middle = 0.5 * (s_.top_v + s_.bottom_v), half = 0.5 * (s_.top_v - s_.bottom_v);
    return s_.light(t) * (middle + s_.contrast(t) * half * (2 * reflected(bit) - 1)) + s_.baseline_v(t);
  }

  EyeTruth truth(double duration_s) {
    EyeTruth truth;
    std::array<double, 12> low{}, high{}, low_count{}, high_count{};
    const double bits = last_bit_ - s_.start_bit;
    for (std::size_t k = 0; k + 1 < edges_.size(); ++k) {
      if (edges_[k] < s_.start_bit || edges_[k + 1] > last_bit_) continue;
      const auto length = static_cast<std::size_t>(std::lround(nominal_[k + 1] - nominal_[k]));
      const double middle = 0.5 * (edges_[k] + edges_[k + 1]);
      const double level = volts_at(middle, (middle - s_.start_bit) / bits * duration_s);
      (k % 2 == 0 ? high : low)[length] += level;
      (k % 2 == 0 ? high_count : low_count)[length] += 1;
    }
    truth.top_v = high[11] / high_count[11];
    truth.bottom_v = low[11] / low_count[11];
    truth.i11_v = truth.top_v - truth.bottom_v;
    const double high3 = high[3] / high_count[3], low3 = low[3] / low_count[3];
    truth.i3_v = high3 - low3;
    truth.asymmetry = (0.5 * (truth.top_v + truth.bottom_v) - 0.5 * (high3 + low3)) / truth.i11_v;
    truth.channel_rate_hz = bits / (duration_s - 1 / s_.rate_hz);
    const double first = std::ceil(s_.start_bit / disc::efm::frame_bits);
    truth.frames = static_cast<int>(std::floor((last_bit_ + 3) / disc::efm::frame_bits) - first);
    const double section = disc::efm::frame_bits * disc::efm::section_frames;
    truth.sections = static_cast<int>(std::floor((last_bit_ + 3) / section) - std::ceil(s_.start_bit / section));
    return truth;
  }

  EyeSettings s_;
  ChannelBits bits_;
  std::vector<double> nominal_, edges_;
  std::size_t low_ = 0;
  double last_bit_ = 0;
};

}  // namespace

Eye render(const EyeSettings& settings) { return EyeRenderer(settings).render(); }

}  // namespace eyelevel::support
