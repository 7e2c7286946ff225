// SPDX-License-Identifier: Apache-2.0
// Any bytes as a model sheet: refused with reasons, or complete.
#include <cstdint>
#include <cstdlib>
#include <vector>

#include "core/bench/model_sheet.hpp"

using namespace eyelevel;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> exact(data, data + size);
  const auto read = bench::read_model_sheet(yaml::load_text("m.yaml", std::string_view(exact.data(), exact.size())));
  if (!read.mistakes.fine()) return 0;
  const auto& sheet = read.sheet;
  if (sheet.model.empty() || !(sheet.pad.source_resistance_ohm.value > 0)) std::abort();
  if (sheet.service_value && !(sheet.service_value->level_v.value > 0)) std::abort();
  if (sheet.trimmer && !sheet.trimmer->player_off_while_turning && sheet.trimmer->service_data.empty()) std::abort();
  return 0;
}
