// SPDX-License-Identifier: Apache-2.0
#include "core/record/archive/sync.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>

namespace eyelevel::record {

void sync(const std::filesystem::path& path) {
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  const bool is_on_disk = file >= 0 && ::fsync(file) == 0;
  const int error = errno;
  if (file >= 0) ::close(file);
  if (!is_on_disk)
    throw std::filesystem::filesystem_error("sync", path, std::error_code(error, std::generic_category()));
}

void sync_folder_of(const std::filesystem::path& path) { sync(std::filesystem::absolute(path).parent_path()); }

}  // namespace eyelevel::record
