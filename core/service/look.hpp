// SPDX-License-Identifier: Apache-2.0
// What the signal looks like just now: the level of the newest capture and the eye of the latest ones, earlier ones
// fading, for whoever watches the bench. A glance, never a reading: that is the sequence's to take. One thread.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/event/event.hpp"
#include "core/metrology/reading.hpp"
#include "core/sequence/language/sequence.hpp"

namespace eyelevel::service {

// Density of the eye: 0 none, 255 most; row 0 is the highest voltage.
struct EyeLook {
  std::uint16_t width = 0;
  std::uint16_t height = 0;
  float low_v = 0;
  float high_v = 0;
  float periods = 0;  // channel bits from the left to the right edge
  std::vector<std::uint8_t> density;

  // As the feed sends it, README.md of this folder: "EYE1", then each of the above, little-endian.
  std::string bytes() const;
};

struct Look {
  std::string signal;
  std::string name;                        // of the captures: "pressed"
  std::optional<double> level_v;           // empty: no eye
  std::optional<double> level_expanded_v;  // of a reading of these captures; empty: not measured yet
  std::optional<double> at_least_v, at_most_v;
  int kept = 0;
  int tried = 0;
  EyeLook eye;

  // { signal, name, level_v, level_expanded_v, at_least, at_most, kept, tried }
  std::string json() const;
};

class Looker {
 public:
  // `sequence` must outlive it: its only limit of a voltage is taken for that of the level.
  explicit Looker(const sequence::Sequence& sequence);

  // True: there is something new to be seen. With `draws` false the capture is only counted: nobody watches, or the
  // last look is not old enough.
  bool take(const event::Captured& captured, bool draws);
  // A reading of a voltage, with its uncertainty.
  bool take(const metrology::Reading& reading);
  const Look& look() const { return look_; }

 private:
  void draw(const signal::Waveform& waveform);

  Look look_;
  std::vector<float> cells_;  // of the eye; earlier captures fade
};

}  // namespace eyelevel::service
