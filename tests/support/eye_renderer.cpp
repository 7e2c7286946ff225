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

// Channel bits as edge positions; lands are the runs after even edges.
class ChannelBits {
 public:
  ChannelBits(int frames, const EyeSettings& settings) {
    base::Random bytes(settings.seed, "bytes");
    disc::circ::Encoder encoder;
    disc::efm::MergingState state;
    for (int n = -120; n < frames; ++n) {
      disc::circ::F1Frame f1{};
      if (settings.user) {
        f1 = settings.user(n);
      } else if (!settings.silence) {
        for (auto& b : f1) b = static_cast<std::uint8_t>(bytes.below(256));
      }
      const auto f2 = encoder.push(f1);
      if (n < 0) continue;  // the delay lines are full from here on
      disc::efm::FrameSymbols symbols{static_cast<std::uint16_t>(control_of(n, settings))};
      std::copy(f2.begin(), f2.end(), symbols.begin() + 1);
      std::array<std::uint16_t, disc::efm::frame_edges_max> edges;
      const int count = disc::efm::encode_frame(symbols, state, edges);
      for (int i = 0; i < count; ++i) {
        at_.push_back(static_cast<double>(n) * disc::efm::frame_bits + edges[static_cast<std::size_t>(i)]);
      }
    }
  }
  const std::vector<double>& at() const { return at_; }

 private:
  static int control_of(int n, const EyeSettings& settings) {
    const int place = n % disc::efm::section_frames, section = n / disc::efm::section_frames;
    if (place == 0) return disc::efm::symbol_s0;
    if (place == 1) return disc::efm::symbol_s1;
    if (settings.q) return disc::subcode::control_byte(settings.q(section), false, place);
    disc::subcode::ProgramPosition position;
    position.control = settings.control;
    position.track = 2;
    position.relative = disc::subcode::time_of(100 + section);
    position.absolute = disc::subcode::time_of(20000 + section);
    return disc::subcode::control_byte(disc::subcode::build_program_q(position), false, place);
  }
  std::vector<double> at_;
};

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
