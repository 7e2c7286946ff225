// SPDX-License-Identifier: Apache-2.0
// Any bytes as bare samples of any format (told by the first byte): read to the last byte or refused with
// Error(bad_input).
#include <cmath>
#include <cstdlib>
#include <vector>

#include "core/base/error.hpp"
#include "core/signal/histogram.hpp"
#include "core/signal/raw.hpp"
#include "tests/fuzz/in_blocks.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  constexpr int formats = static_cast<int>(eyelevel::signal::RawFormat::float64be) + 1;
  const std::vector<std::uint8_t> exact(data + 1, data + size);
  eyelevel::signal::ReadOptions options;
  options.rate_hz = 20e6;
  options.scale_v = 0.5;
  options.format = static_cast<eyelevel::signal::RawFormat>(data[0] % formats);
  try {
    const auto stored = eyelevel::test::read_both_ways(
        [&] { return eyelevel::signal::open_raw(std::as_bytes(std::span(exact)), options); });
    if (eyelevel::signal::summarise(stored.view()).count != stored.view().size()) std::abort();
    if (exact.size() % stored.view().size() != 0 || !std::isfinite(stored.view().volts(0))) std::abort();
  } catch (const eyelevel::base::Error& error) {
    if (error.record().code != eyelevel::base::ErrorCode::bad_input) std::abort();
  }
  return 0;
}
