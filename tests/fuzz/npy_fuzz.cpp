// SPDX-License-Identifier: Apache-2.0
// Any bytes as an .npy file: read or refused with Error(bad_input), and what was read can be used.
#include <cstdlib>
#include <vector>

#include "core/base/error.hpp"
#include "core/signal/histogram.hpp"
#include "core/signal/npy.hpp"
#include "tests/fuzz/in_blocks.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<std::uint8_t> exact(data, data + size);
  eyelevel::signal::ReadOptions options;
  options.rate_hz = 20e6;
  options.scale_v = 0.01;
  try {
    const auto stored = eyelevel::test::read_both_ways(
        [&] { return eyelevel::signal::open_npy(std::as_bytes(std::span(exact)), options); });
    if (eyelevel::signal::summarise(stored.view()).count != stored.view().size()) std::abort();
    if (eyelevel::signal::write_npy(stored.view()).empty()) std::abort();
  } catch (const eyelevel::base::Error& error) {
    if (error.record().code != eyelevel::base::ErrorCode::bad_input) std::abort();
  }
  return 0;
}
