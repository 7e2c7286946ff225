// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/trust.hpp"

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <system_error>

namespace eyelevel::plugin {

namespace {

std::optional<std::string> why_others_could_write(const std::filesystem::path& path, const struct stat& state,
                                                  bool is_above) {
  if (state.st_uid != 0 && state.st_uid != ::geteuid())
    return fmt::format("{} belongs to user {}, not to root or to user {}; make it your own with chown", path.string(),
                       state.st_uid, ::geteuid());
  const bool is_open = (state.st_mode & (S_IWGRP | S_IWOTH)) != 0;
  if (is_open && !(is_above && (state.st_mode & S_ISVTX) != 0))
    return fmt::format("{} may be written by others (mode {:04o}); close it with: chmod go-w {}", path.string(),
                       state.st_mode & 07777U, path.string());
  return std::nullopt;
}

}  // namespace

std::optional<std::string> why_untrusted(const std::filesystem::path& path, FileKind kind) {
  struct stat state{};
  if (::lstat(path.c_str(), &state) != 0) return fmt::format("{}: {}", path.string(), std::strerror(errno));
  if (S_ISLNK(state.st_mode)) return path.string() + " is a link; put the thing itself there";
  if (kind == FileKind::file && !S_ISREG(state.st_mode)) return path.string() + " is no file";
  if (kind == FileKind::folder && !S_ISDIR(state.st_mode)) return path.string() + " is no folder";
  if (auto why = why_others_could_write(path, state, false)) return why;
  std::error_code error;
  auto above = std::filesystem::canonical(path, error).parent_path();
  if (error) return fmt::format("{}: {}", path.string(), error.message());
  for (;; above = above.parent_path()) {
    if (::stat(above.c_str(), &state) != 0) return fmt::format("{}: {}", above.string(), std::strerror(errno));
    if (auto why = why_others_could_write(above, state, true)) return why;
    if (above == above.root_path()) return std::nullopt;
  }
}

}  // namespace eyelevel::plugin
