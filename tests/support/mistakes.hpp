// SPDX-License-Identifier: Apache-2.0
// What a reader of YAML had to say, one mistake a line.
#pragma once

#include <string>

#include "core/yaml/mistake.hpp"

namespace eyelevel::test {

inline std::string printed(const yaml::Mistakes& mistakes) {
  std::string all;
  for (const auto& m : mistakes.list()) all += (all.empty() ? "" : "\n") + yaml::print(m);
  return all;
}

}  // namespace eyelevel::test
