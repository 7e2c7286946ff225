// SPDX-License-Identifier: Apache-2.0
// Any bytes as a WAV file, each channel, with and without a scale beside: read or refused with Error(bad_input).
#include <cmath>
#include <cstdlib>
#include <vector>

#include "core/base/error.hpp"
#include "core/signal/histogram.hpp"
#include "core/signal/wav.hpp"
#include "tests/fuzz/in_blocks.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<std::uint8_t> exact(data, data + size);
  for (const std::size_t channel : {std::size_t{1}, std::size_t{2}}) {
    eyelevel::signal::ReadOptions options;
    options.channel = channel;
    if (channel == 2) options.scale_v = 0.5;
    try {
      const auto stored = eyelevel::test::read_both_ways(
          [&] { return eyelevel::signal::open_wav(std::as_bytes(std::span(exact)), options); });
      if (eyelevel::signal::summarise(stored.view()).count != stored.view().size()) std::abort();
      if (!(stored.view().rate_hz > 0) || !std::isfinite(stored.view().volts(0))) std::abort();
    } catch (const eyelevel::base::Error& error) {
      if (error.record().code != eyelevel::base::ErrorCode::bad_input) std::abort();
    }
  }
  return 0;
}
