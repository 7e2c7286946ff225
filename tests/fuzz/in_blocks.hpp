// SPDX-License-Identifier: Apache-2.0
// A waveform file read as a whole and, beside it, in small blocks: aborts where they are not the same.
#pragma once

#include <cstdlib>

#include "core/signal/stored.hpp"

#include "tests/support/whole_waveform.hpp"

namespace eyelevel::test {

// `open` gives a new stream of the same file each time.
template <class Open>
test::StoredWaveform read_both_ways(Open open) {
  auto whole = test::read_whole(*open());
  const auto stream = open();
  std::size_t at = 0;
  while (true) {
    const signal::CodesView block = stream->next(3);
    const std::size_t count = std::visit([](const auto& codes) { return codes.size(); }, block);
    if (count == 0) break;
    signal::WaveformView some = stream->about();
    some.codes = block;
    for (std::size_t i = 0; i < count; ++i) {
      if (some.volts(i) != whole.view().volts(at + i)) std::abort();
    }
    at += count;
  }
  if (at != whole.view().size()) std::abort();
  return whole;
}

}  // namespace eyelevel::test
