// SPDX-License-Identifier: Apache-2.0
// What stands in the codes of a picture, read by zbarimg (Debian's zbar-tools); one line each.
#pragma once

#include <array>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>

namespace eyelevel::test {

inline std::string read_code(const std::filesystem::path& picture) {
  const std::string command = "zbarimg --quiet --raw --nodbus '" + picture.string() + "' 2>&1";
  const std::unique_ptr<FILE, int (*)(FILE*)> pipe(popen(command.c_str(), "r"), pclose);
  std::string said;
  std::array<char, 256> some{};
  while (pipe && std::fgets(some.data(), some.size(), pipe.get()) != nullptr) said += some.data();
  while (!said.empty() && said.back() == '\n') said.pop_back();
  return said;
}

}  // namespace eyelevel::test
