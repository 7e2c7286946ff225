// SPDX-License-Identifier: Apache-2.0
// Builds a program message for the client: units joined by ';', every header from the root, numbers that read back the
// same. The only place where SCPI text is put together; phrasebooks name headers, this writes them. The terminator is
// the link's. Headers carry their numbers as <n>: header("INPut<n>:COUPling", {2}) is ":INPut2:COUPling".
#pragma once

#include <cstdint>
#include <initializer_list>
#include <span>
#include <string>
#include <string_view>

namespace eyelevel::scpi {

class ProgramBuilder {
 public:
  // Begin a unit. `pattern` may be common ("*RST"), with or without leading colon, optional nodes in brackets are left
  // out, each <...> takes the next of `numbers`. Throws base::Error(defect) when the counts differ.
  ProgramBuilder& command(std::string_view pattern, std::initializer_list<int> numbers = {});
  ProgramBuilder& query(std::string_view pattern, std::initializer_list<int> numbers = {});
  ProgramBuilder& command(std::string_view pattern, std::span<const int> numbers);
  ProgramBuilder& query(std::string_view pattern, std::span<const int> numbers);

  // Parameters of the unit begun last.
  ProgramBuilder& number(double value);  // shortest text that reads back the same
  ProgramBuilder& integer(std::int64_t value);
  ProgramBuilder& boolean(bool value);
  ProgramBuilder& word(std::string_view character_data);
  ProgramBuilder& string(std::string_view text);
  ProgramBuilder& block(std::string_view data);
  ProgramBuilder& channels(std::span<const int> list);  // (@1,2)
  ProgramBuilder& channel(int number) { return channels(std::span(&number, 1)); }

  const std::string& text() const { return text_; }
  bool empty() const { return text_.empty(); }
  void clear() { text_.clear(); }

 private:
  void begin(std::string_view pattern, std::span<const int> numbers, bool query);
  void separate();

  std::string text_;
  bool first_parameter_ = true;
};

}  // namespace eyelevel::scpi
