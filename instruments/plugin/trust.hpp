// SPDX-License-Identifier: Apache-2.0
// Whether a file may be run as part of this program: nobody but its user and the administrator may have been able to
// write it.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

namespace eyelevel::plugin {

enum class FileKind { file, folder };

// Empty when it may be trusted; otherwise why not, with what to do. The path itself (no link) and every folder above it
// must belong to root or to the user of this process and be writable by nobody else; a folder above may be open to all
// if it is sticky, as /tmp is.
std::optional<std::string> why_untrusted(const std::filesystem::path& path, FileKind kind);

}  // namespace eyelevel::plugin
