// SPDX-License-Identifier: Apache-2.0
// A file read through the page cache without a copy. Throws Error(not_found or bad_input) naming the path and the
// reason.
#pragma once

#include <cstddef>
#include <filesystem>
#include <span>
#include <string_view>

namespace eyelevel::base {

class MappedFile {
 public:
  explicit MappedFile(const std::filesystem::path& path);
  MappedFile(MappedFile&& other) noexcept;
  MappedFile& operator=(MappedFile&&) = delete;
  ~MappedFile();

  std::span<const std::byte> bytes() const { return {data_, size_}; }
  std::string_view text() const { return {reinterpret_cast<const char*>(data_), size_}; }

  // The pages from..to (bytes) leave the program's memory; they come back when they are touched again.
  void release(std::size_t from, std::size_t to) const;

 private:
  const std::byte* data_ = nullptr;
  std::size_t size_ = 0;
};

}  // namespace eyelevel::base
