// SPDX-License-Identifier: Apache-2.0
// A waveform file as blocks of samples: what is held does not grow with the file. The formats are npy.hpp, wav.hpp,
// csv.hpp and raw.hpp; stored.hpp tells them apart, and makes a whole waveform of a stream. A file is refused with
// Error(bad_input) when it is opened or, for what only shows further on, with the block where it shows: until next()
// has given its last block, what was made of the others counts for nothing.
// Ownership: the file's bytes must stay as long as the stream. One stream belongs to one thread.
#pragma once

#include <cstddef>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "core/signal/waveform.hpp"

namespace eyelevel::signal {

// Told which bytes of the file, from..to, are not needed for now. They may be read again.
using Release = std::function<void(std::size_t from, std::size_t to)>;

class SampleStream {
 public:
  static constexpr std::size_t block_most = std::size_t{1} << 20;

  SampleStream(const SampleStream&) = delete;
  SampleStream& operator=(const SampleStream&) = delete;
  virtual ~SampleStream() = default;

  // Rate, scale, offset, screen and, with no samples, the type of the codes.
  const WaveformView& about() const { return about_; }
  // How the file was read where it could have been read otherwise: "decimal comma", "channel 1 of 2 in mV".
  const std::vector<std::string>& assumed() const { return assumed_; }
  // Whether blocks are views into the file's bytes, which stay when the stream goes.
  bool samples_are_borrowed() const { return borrowed_; }
  // How far the file has been read, to within a megabyte or a block.
  std::size_t bytes_passed() const { return passed_; }

  // The next samples, which stay until the next call: at most `most` and, unless they are borrowed, at most block_most.
  // None after the last; afterwards this must not be called.
  virtual CodesView next(std::size_t most = block_most) = 0;

 protected:
  explicit SampleStream(Release release) : release_(std::move(release)) {}

  // Bytes before `end` have been read. An `end` before the last one begins another reading.
  void pass(std::size_t end) {
    constexpr std::size_t step = std::size_t{1} << 20;
    if (end < passed_) passed_ = 0;
    if (end - passed_ < step) return;
    if (release_) release_(passed_, end);
    passed_ = end;
  }

  WaveformView about_;
  std::vector<std::string> assumed_;
  bool borrowed_ = false;

 private:
  Release release_;
  std::size_t passed_ = 0;
};

}  // namespace eyelevel::signal
