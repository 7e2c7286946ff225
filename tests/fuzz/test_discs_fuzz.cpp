// SPDX-License-Identifier: Apache-2.0
// Any bytes as a list of test discs: refused with reasons, or each disc is found by its mark.
#include <cstdint>
#include <cstdlib>
#include <vector>

#include "core/bench/test_discs.hpp"

using namespace eyelevel;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> exact(data, data + size);
  const auto read = bench::read_test_discs(yaml::load_text("d.yaml", std::string_view(exact.data(), exact.size())));
  if (!read.mistakes.fine()) return 0;
  for (const auto& disc : read.discs.list) {
    if (disc.name.empty() || read.discs.find(disc.mark) != &disc) std::abort();
  }
  return 0;
}
