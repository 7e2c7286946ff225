// SPDX-License-Identifier: Apache-2.0
// Eye signals with known truth for tests of the analyser: channel frames of random or silent content with a running Q
// channel, each edge a Gaussian error function on the channel-bit grid, jittered, shifted for asymmetry, at any channel
// and sample rate. Truth is the closed form at known run positions, never measured on samples. The channel bits come
// from core/disc, so they prove nothing about the code; tests/data/waveforms does.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <functional>
#include <vector>

#include "core/base/random.hpp"
#include "core/disc/circ/encoder.hpp"
#include "core/disc/efm/merging.hpp"
#include "core/disc/subcode/q.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::support {

struct EyeSettings {
  double rate_hz = 20e6;
  double channel_rate_hz = 4321800;
  double duration_s = 0.030;
  double start_bit = 1000;  // where in the first frame the record begins
  double top_v = 2.0, bottom_v = 0.7;
  double blur_t = 1.25;      // standard deviation of the blur, channel bits
  double pit_longer_t = 0;   // each pit is longer by this, each land shorter: asymmetry
  double edge_jitter_t = 0;  // standard deviation of one edge
  double noise_v = 0.006;
  int control = 0;
  bool silence = false;
  std::uint64_t seed = 1;
  // The F1-frame of each number instead of random bytes, from -120 (the delay lines) on.
  std::function<disc::circ::F1Frame(int)> user = {};
  // The Q block of each section instead of one inside track 2.
  std::function<disc::subcode::QBytes(int)> q = {};
  // Functions of time in seconds.
  std::function<double(double)> rate_change = [](double) { return 0.0; };  // relative, of the channel rate
  std::function<double(double)> contrast = [](double) { return 1.0; };     // of the light's modulation about its middle
  std::function<double(double)> light = [](double) { return 1.0; };        // of all light, zero light being 0 V
  std::function<double(double)> baseline_v = [](double) { return 0.0; };
};

struct EyeTruth {
  double i11_v = 0, i3_v = 0, top_v = 0, bottom_v = 0, mean_v = 0, asymmetry = 0;
  double channel_rate_hz = 0;
  int frames = 0;    // wholly inside
  int sections = 0;  // wholly inside
};

struct Eye {
  std::vector<float> volts;
  EyeTruth truth;
  double rate_hz = 0;

  signal::WaveformView view() const { return {std::span<const float>(volts), rate_hz, 1, 0, std::nullopt}; }
  // As an 8-bit converter with this screen gives it.
  signal::Waveform on_screen(double low_v, double high_v) const {
    signal::Waveform wave;
    wave.rate_hz = rate_hz;
    wave.scale_v = (high_v - low_v) / 255;
    wave.offset_v = low_v + 128 * wave.scale_v;
    std::vector<std::int8_t> codes;
    codes.reserve(volts.size());
    for (const float v : volts) {
      const double code = std::nearbyint((static_cast<double>(v) - wave.offset_v) / wave.scale_v);
      codes.push_back(static_cast<std::int8_t>(std::clamp(code, -128.0, 127.0)));
    }
    wave.codes = std::move(codes);
    return wave;
  }
};

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

Eye render(const EyeSettings& settings);

}  // namespace eyelevel::support
