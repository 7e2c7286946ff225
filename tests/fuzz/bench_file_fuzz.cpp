// SPDX-License-Identifier: Apache-2.0
// Any bytes as a bench file: refused with reasons, or complete.
#include <cstdint>
#include <cstdlib>
#include <vector>

#include "core/bench/bench_file.hpp"

using namespace eyelevel;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> exact(data, data + size);
  const auto read = bench::read_bench_file(yaml::load_text("b.yaml", std::string_view(exact.data(), exact.size())));
  if (!read.mistakes.fine()) return 0;
  if (read.bench.name.empty() || read.bench.instruments.empty()) std::abort();
  for (const auto& instrument : read.bench.instruments) {
    if (instrument.kind == "multimeter" && !(instrument.input_resistance_ohm > 0)) std::abort();
    for (const auto& output : instrument.outputs)
      if (!(output.most_v > 0) || output.number < 1) std::abort();
    for (const auto& way : instrument.ways)
      if (way.channel < 1) std::abort();
    for (const auto& channel : instrument.channels)
      if (!(channel.probe_factor > 0) || channel.number < 1) std::abort();
  }
  return 0;
}
