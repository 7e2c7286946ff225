// SPDX-License-Identifier: Apache-2.0
// A bench file for tests: one oscilloscope with a x10 probe, one multimeter. Invented.
#pragma once

#include <stdexcept>

#include "core/bench/bench_file.hpp"

namespace eyelevel::test {

inline bench::BenchFile small_bench() {
  auto read = bench::read_bench_file(yaml::load_text("bench.yaml", R"(bench: test-bench
about: A bench for tests (invented)
instruments:
  scope:
    kind: oscilloscope
    resource: TCPIP0::127.0.0.1::5025::SOCKET
    phrasebook: standard-digitiser
    calibration due: 2030-06-30
    accuracy: { gain: ± 1.5 %, offset: ± 10 mV }
    channels:
      1:
        probe: x10
        probe accuracy: ± 1 %
        probe compensation: ± 0.5 %
        probe resistance: 10 MΩ
        probe capacitance: 12 pF
  meter:
    kind: multimeter
    resource: TCPIP0::127.0.0.1::5026::SOCKET
    phrasebook: standard-multimeter
    calibration due: 2030-03-31
    accuracy: { reading: ± 0.05 %, range: ± 0.01 % }
    input resistance: 10 MΩ
)"));
  if (!read.mistakes.fine()) throw std::logic_error("the bench of the tests does not check");
  return std::move(read.bench);
}

}  // namespace eyelevel::test
