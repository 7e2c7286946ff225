// SPDX-License-Identifier: Apache-2.0
// Any bytes as a sequence file: mistakes are collected, never thrown; what checks has an action in every step.
#include <cstdint>
#include <cstdlib>
#include <vector>

#include "core/sequence/language/check.hpp"
#include "core/sequence/verb/ready.hpp"
#include "core/yaml/load.hpp"

namespace {

void require(bool holds) {
  if (!holds) __builtin_trap();
}

void require_actions(const std::vector<eyelevel::sequence::Step>& steps) {
  for (const auto& step : steps) {
    require(step.action || !step.inside.empty());
    require_actions(step.inside);
    require_actions(step.otherwise);
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const auto language = eyelevel::sequence::ready_language();
  const std::vector<char> exact(data, data + size);
  auto document = eyelevel::yaml::load_text("fuzz.yaml", std::string_view(exact.data(), exact.size()));
  const auto sequence = eyelevel::sequence::check(document, language);
  require(sequence.has_value() == document.mistakes.fine());
  if (!sequence) return 0;
  require_actions(sequence->opening);
  require_actions(sequence->steps);
  require_actions(sequence->closing);
  return 0;
}
