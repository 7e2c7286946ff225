// SPDX-License-Identifier: Apache-2.0
// Any bytes as a YAML file: read, or refused with a place and a reason; every node knows where it stands.
#include <cstdint>
#include <cstdlib>
#include <vector>

#include "core/yaml/load.hpp"

using namespace eyelevel;

namespace {

void look_at(const yaml::Node& node, int depth) {
  if (depth > 32 || node.mark.line < 1 || node.mark.column < 1) std::abort();
  if (node.shape != yaml::Shape::text && !node.text.empty()) std::abort();
  for (const auto& item : node.items) look_at(item, depth + 1);
  for (const auto& entry : node.entries) {
    if (entry.key_mark.line < 1 || entry.key.empty()) std::abort();
    look_at(entry.value, depth + 1);
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> exact(data, data + size);
  const auto document = yaml::load_text("f.yaml", std::string_view(exact.data(), exact.size()));
  for (const auto& mistake : document.mistakes.list())
    if (mistake.line < 1 || mistake.column < 1 || mistake.message.empty()) std::abort();
  if (document.mistakes.fine()) {
    if (document.root.shape == yaml::Shape::nothing) std::abort();
    look_at(document.root, 0);
  }
  return 0;
}
