// SPDX-License-Identifier: Apache-2.0
// WAV: "RIFF" (or "RF64", EBU Tech 3306, beyond 4 GB) of chunks, "fmt " before "data" (Multimedia Programming Interface
// and Data Specifications 1.0, 1991): PCM of 8 (unsigned), 16, 24 or 32 bits and IEEE float of 32 bits, any number of
// channels, one of which is read. Also what a WAVE_FORMAT_EXTENSIBLE header says of these. 16-bit and float samples of
// a file with one channel stay in the caller's bytes, all others are copied block by block (24 and 32 bits as float).
#pragma once

#include <cstddef>
#include <memory>
#include <span>

#include "core/signal/stored.hpp"

namespace eyelevel::signal {

bool is_wav(std::span<const std::byte> bytes);

// The rate is the header's unless one is given beside. Volts are the file's number times scale plus offset; without a
// scale, full scale is taken as 1 V, which is said.
std::unique_ptr<SampleStream> open_wav(std::span<const std::byte> bytes, const ReadOptions& options,
                                       Release release = {});

}  // namespace eyelevel::signal
