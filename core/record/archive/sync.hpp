// SPDX-License-Identifier: Apache-2.0
// Files that survive a power cut: before something is deleted, what took its place must be on the disk.
#pragma once

#include <filesystem>

namespace eyelevel::record {

// What was written of the file or folder is on the disk (fsync, POSIX.1-2017). Throws
// std::filesystem::filesystem_error.
void sync(const std::filesystem::path& path);
// The folder that holds it: a file of a new name is found there after a power cut.
void sync_folder_of(const std::filesystem::path& path);

}  // namespace eyelevel::record
