// SPDX-License-Identifier: Apache-2.0
// A waveform file as a whole: its samples either left where the caller's bytes are (no copy) or owned. The product
// reads files block by block.
#pragma once

#include <limits>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "core/signal/sample_stream.hpp"

namespace eyelevel::test {

class StoredWaveform {
 public:
  explicit StoredWaveform(signal::Waveform owned, std::vector<std::string> assumed = {})
      : held_(std::move(owned)), assumed_(std::move(assumed)) {}
  explicit StoredWaveform(signal::WaveformView borrowed, std::vector<std::string> assumed = {})
      : held_(borrowed), assumed_(std::move(assumed)) {}

  signal::WaveformView view() const {
    if (const auto* owned = std::get_if<signal::Waveform>(&held_)) return owned->view();
    return std::get<signal::WaveformView>(held_);
  }
  bool samples_are_borrowed() const { return std::holds_alternative<signal::WaveformView>(held_); }
  // As SampleStream::assumed().
  const std::vector<std::string>& assumed() const { return assumed_; }

 private:
  std::variant<signal::Waveform, signal::WaveformView> held_;
  std::vector<std::string> assumed_;
};

// All blocks of a stream that has given none yet.
inline StoredWaveform read_whole(signal::SampleStream& stream) {
  signal::WaveformView about = stream.about();
  if (stream.samples_are_borrowed()) {
    about.codes = stream.next(std::numeric_limits<std::size_t>::max());
    return StoredWaveform(about, stream.assumed());
  }
  return std::visit(
      [&]<class Code>(std::span<const Code>) {
        std::vector<Code> codes;
        while (true) {
          const auto block = std::get<std::span<const Code>>(stream.next());
          if (block.empty()) break;
          codes.insert(codes.end(), block.begin(), block.end());
        }
        return StoredWaveform(signal::Waveform{.codes = std::move(codes),
                                               .rate_hz = about.rate_hz,
                                               .scale_v = about.scale_v,
                                               .offset_v = about.offset_v,
                                               .screen = about.screen,
                                               .start_s = 0},
                              stream.assumed());
      },
      about.codes);
}

}  // namespace eyelevel::test
