// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyeleveld/state_folder.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <fmt/format.h>

#include <array>
#include <cerrno>
#include <climits>
#include <fstream>
#include <random>
#include <system_error>

#include "core/base/error.hpp"
#include "core/program/store_place.hpp"

namespace eyelevel::program {

namespace {

[[noreturn]] void refuse(const std::filesystem::path& path, const std::string& why, const std::string& advice) {
  throw base::Error(base::ErrorCode::bad_input, "--state " + path.string() + ": " + why, advice);
}

}  // namespace

StateFolder::StateFolder(const std::string& given)
    : path_(given.empty() ? usual_state_folder() : std::filesystem::path(given)) {
  std::error_code error;
  std::filesystem::create_directories(path_, error);
  if (error) refuse(path_, error.message(), "name a folder that may be written to");
  const auto lock = path_ / "lock";
  lock_ = ::open(lock.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
  if (lock_ < 0) refuse(path_, std::generic_category().message(errno), "name a folder that may be written to");
  if (::flock(lock_, LOCK_EX | LOCK_NB) == 0) return;
  ::close(lock_);
  refuse(path_, "another daemon works with this folder", "stop that one, do it at its page, or name another folder");
}

std::string StateFolder::owner() const {
  const auto file = path_ / "owner";
  std::string name;
  if (std::getline(std::ifstream(file), name) && !name.empty()) return name;
  std::array<char, HOST_NAME_MAX + 1> host{};
  ::gethostname(host.data(), host.size() - 1);
  std::random_device entropy;
  name = fmt::format("{}-{:08x}{:08x}", host.data(), entropy(), entropy());
  // Whole or not at all: half a name would be another daemon's.
  const auto fresh = path_ / "owner.new";
  if (std::ofstream out(fresh); !(out << name << '\n') || !out.flush())
    refuse(path_, "the name of this daemon cannot be kept in it", "free some space, or name another folder");
  std::filesystem::rename(fresh, file);
  return name;
}

StateFolder::~StateFolder() { ::close(lock_); }

}  // namespace eyelevel::program
