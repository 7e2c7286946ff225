// SPDX-License-Identifier: Apache-2.0
// A mistake in a file, where it is and what would be right. Lines and columns count from 1; a column counts characters
// (code points), not bytes. Mistakes are collected, never thrown, so that a reader sees all of them at once.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::yaml {

struct Mark {
  int line = 0;
  int column = 0;
  bool operator==(const Mark&) const = default;
};

enum class Severity { error, warning };
std::string_view name_of(Severity severity);  // "error", "warning"

struct Mistake {
  std::string file;
  int line = 0;
  int column = 0;
  Severity severity = Severity::error;
  std::string message;
  std::string suggestion;  // what would be right; may be empty
  bool operator==(const Mistake&) const = default;
};

// "FILE:LINE:COLUMN: MESSAGE; SUGGESTION", with "warning: " before the message of a warning.
std::string print(const Mistake& mistake);

class Mistakes {
 public:
  explicit Mistakes(std::string file) : file_(std::move(file)) {}

  void add(Mark at, std::string message, std::string suggestion = {}, Severity severity = Severity::error);
  void take(const std::vector<Mistake>& others) { list_.insert(list_.end(), others.begin(), others.end()); }
  // Lines that are read several times make their mistakes each time.
  void drop_repeated();

  const std::string& file() const { return file_; }
  const std::vector<Mistake>& list() const { return list_; }
  std::size_t size() const { return list_.size(); }
  // No error; warnings may be there.
  bool fine() const;

 private:
  std::string file_;
  std::vector<Mistake> list_;
};

}  // namespace eyelevel::yaml
