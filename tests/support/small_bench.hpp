// SPDX-License-Identifier: Apache-2.0
// Bench files for tests: one oscilloscope with a x10 probe and one multimeter; one instrument of every kind. Invented.
#pragma once

#include <stdexcept>
#include <string>

#include "core/bench/bench_file.hpp"

namespace eyelevel::test {

inline const char* small_bench_text() {
  return R"(bench: test-bench
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
)";
}

inline bench::BenchFile read_bench(const std::string& text) {
  auto read = bench::read_bench_file(yaml::load_text("bench.yaml", text));
  if (!read.mistakes.fine()) throw std::logic_error("the bench of the tests does not check");
  return std::move(read.bench);
}

inline bench::BenchFile small_bench() { return read_bench(small_bench_text()); }

inline bench::BenchFile every_kind_bench() {
  return read_bench(small_bench_text() + std::string(R"(  supply:
    kind: power supply
    resource: TCPIP0::127.0.0.1::5027::SOCKET
    phrasebook: standard-power-supply
    accuracy: { voltage: ± 0.1 %, current: ± 0.5 % }
    outputs:
      1: { voltage at most: 5.5 V, current at most: 500 mA }
  generator:
    kind: function generator
    resource: TCPIP0::127.0.0.1::5028::SOCKET
    phrasebook: standard-function-generator
    accuracy: { frequency: ± 0.002 %, amplitude: ± 1 % }
    outputs:
      1: { voltage at most: 5 V }
  counter:
    kind: counter
    resource: TCPIP0::127.0.0.1::5029::SOCKET
    phrasebook: standard-counter
    accuracy: { frequency: ± 0.0001 % }
    input resistance: 1 MΩ
  box:
    kind: relay box
    resource: TCPIP0::127.0.0.1::5030::SOCKET
    phrasebook: standard-relay-box
    ways: { pad: { relay: 1 }, calibrator: { relay: 2 } }
)"));
}

}  // namespace eyelevel::test
