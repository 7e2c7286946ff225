// SPDX-License-Identifier: Apache-2.0
// The .npy array file (NumPy Enhancement Proposal 1; versions 1, 2 and 3): one dimension of int8 or int16 codes, or of
// float32 or float64 volts. Little-endian int8, int16 and float32 samples are not copied where they lie aligned;
// float64 becomes float. Objects (pickled data), records and further dimensions are refused. The file carries no sample
// rate.
#pragma once

#include <cstddef>
#include <memory>
#include <span>
#include <vector>

#include "core/signal/stored.hpp"

namespace eyelevel::signal {

bool is_npy(std::span<const std::byte> bytes);

std::unique_ptr<SampleStream> open_npy(std::span<const std::byte> bytes, const ReadOptions& options,
                                       Release release = {});

// Version 1 with the samples as they are held: codes, not volts (scale, offset and rate go into the caller's record).
std::vector<std::byte> write_npy(const WaveformView& waveform);

}  // namespace eyelevel::signal
