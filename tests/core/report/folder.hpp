// SPDX-License-Identifier: Apache-2.0
// A folder of its own for a test, gone afterwards.
#pragma once

#include <stdlib.h>

#include <filesystem>
#include <string>

namespace eyelevel::test {

class Folder {
 public:
  Folder() {
    std::string form = (std::filesystem::temp_directory_path() / ("eyelevel-test-" + std::string(6, 'X'))).string();
    path_ = ::mkdtemp(form.data());
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() { std::filesystem::remove_all(path_); }
  const std::filesystem::path& path() const { return path_; }
  std::filesystem::path operator/(const char* name) const { return path_ / name; }

 private:
  std::filesystem::path path_;
};

}  // namespace eyelevel::test
