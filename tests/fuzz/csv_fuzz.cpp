// SPDX-License-Identifier: Apache-2.0
// Any bytes as a CSV waveform, with and without a rate and the choice of a channel beside: read or refused with
// Error(bad_input).
#include <cstdlib>
#include <vector>

#include "core/base/error.hpp"
#include "core/signal/csv.hpp"
#include "core/signal/histogram.hpp"
#include "tests/fuzz/in_blocks.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> exact(data, data + size);
  for (const bool with_rate : {false, true}) {
    eyelevel::signal::ReadOptions options;
    if (with_rate) {
      options.rate_hz = 20e6;
      options.channel = 2;
    }
    try {
      const auto stored = eyelevel::test::read_both_ways(
          [&] { return eyelevel::signal::open_csv({exact.data(), exact.size()}, options); });
      if (eyelevel::signal::summarise(stored.view()).count != stored.view().size()) std::abort();
      if (!(stored.view().rate_hz > 0) || stored.view().size() == 0 || stored.assumed().empty()) std::abort();
    } catch (const eyelevel::base::Error& error) {
      if (error.record().code != eyelevel::base::ErrorCode::bad_input) std::abort();
    }
  }
  return 0;
}
