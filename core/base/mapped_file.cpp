// SPDX-License-Identifier: Apache-2.0
#include "core/base/mapped_file.hpp"

#include <fcntl.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <system_error>
#include <utility>

#include "core/base/error.hpp"

namespace eyelevel::base {
namespace {

[[noreturn]] void refuse(const std::filesystem::path& path, int number) {
  const auto code = number == ENOENT ? ErrorCode::not_found : ErrorCode::bad_input;
  throw Error(code, path.string() + ": " + std::generic_category().message(number),
              "check the path and its permissions");
}

}  // namespace

MappedFile::MappedFile(const std::filesystem::path& path) {
  // Without O_NONBLOCK a pipe that nobody writes into would be waited for.
  const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (file < 0) refuse(path, errno);
  struct stat info{};
  if (::fstat(file, &info) != 0 || S_ISDIR(info.st_mode)) {
    const int number = S_ISDIR(info.st_mode) ? EISDIR : errno;
    ::close(file);
    refuse(path, number);
  }
  if (!S_ISREG(info.st_mode)) {
    ::close(file);
    throw Error(ErrorCode::bad_input, path.string() + ": is a pipe or a device, which cannot be read twice",
                "write what comes from it into a file first");
  }
  size_ = static_cast<std::size_t>(info.st_size);
  if (size_ > 0) {
    void* at = ::mmap(nullptr, size_, PROT_READ, MAP_PRIVATE, file, 0);
    if (at == MAP_FAILED) {
      const int number = errno;
      ::close(file);
      refuse(path, number);
    }
    data_ = static_cast<const std::byte*>(at);
  }
  ::close(file);
}

MappedFile::MappedFile(MappedFile&& other) noexcept
    : data_(std::exchange(other.data_, nullptr)), size_(std::exchange(other.size_, 0)) {}

MappedFile::~MappedFile() {
  if (data_ != nullptr) ::munmap(const_cast<std::byte*>(data_), size_);
}

void MappedFile::release(std::size_t from, std::size_t to) const {
  const auto page = static_cast<std::size_t>(::sysconf(_SC_PAGESIZE));
  to = std::min(to, size_) / page * page;
  from = from / page * page;
  if (from >= to) return;
  // Nothing is lost if the pages stay.
  ::madvise(const_cast<std::byte*>(data_) + from, to - from, MADV_DONTNEED);
}

}  // namespace eyelevel::base
