// SPDX-License-Identifier: Apache-2.0
// The test pad of a simulated player as something an instrument can be connected to: the signal of whatever the player
// was doing, rendered from the disc's channel bits, with the pad's noise, saturation and source resistance. Not here:
// what the player does (player.hpp), what the instrument makes of it (sim/instrument). The player must outlive it. One
// pad belongs to one thread. Cost while playing: about 10 ns a sample.
#pragma once

#include <map>
#include <memory>
#include <span>

#include "sim/disc/channel_stream.hpp"
#include "sim/disc/renderer.hpp"
#include "sim/player/pad.hpp"
#include "sim/player/player.hpp"
#include "sim/player/signal_source.hpp"

namespace eyelevel::sim {

class PadSignal : public SignalSource {
 public:
  explicit PadSignal(const Player& player);
  ~PadSignal() override;

  void render(double start_s, double rate_hz, std::span<float> volts, const Load& load) override;
  // Without noise: over the time of a meter's reading it is far below what a meter resolves.
  double mean_v(double from_s, double until_s, const Load& load) override;

 private:
  struct Reader;  // the disc's channel bits and the shapes of its eye
  struct Block {
    double from_s;
    double rate_hz;
    std::span<float> volts;
    double end_s() const { return from_s + static_cast<double>(volts.size()) / rate_hz; }
  };
  Reader& reader(const std::shared_ptr<const LoadedDisc>& disc);
  // Each writes linear volts from dark into the block; returns the noise density that the disc adds.
  double followed(const Stretch& stretch, const Block& block);
  double open_track(const Segment& segment, const Block& block);
  void focus_search(const Segment& segment, const Block& block) const;
  double unloaded(const Stretch& stretch, const Block& block);
  double place_of(const Stretch& stretch, double time_s) const;
  double mean_at(double time_s) const;

  const Player& player_;
  std::unique_ptr<Reader> reader_;
};

}  // namespace eyelevel::sim
