// SPDX-License-Identifier: Apache-2.0
// Reads a response message element by element (IEEE 488.2 chapter 8), as a forgiving listener: '+' signs, lower case
// 'e', white space around elements. Every mismatch is base::Error(bad_answer) with the answer and what was expected at
// which byte. Views point into the message. Not for splitting bytes off a stream: that is transport/socket/codec.hpp.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::scpi {

class ResponseReader {
 public:
  explicit ResponseReader(std::string_view message) : message_(message) {}

  double number();  // NR1, NR2, NR3; 9.9E37, -9.9E37, 9.91E37 become inf, -inf, nan (SCPI-99 Vol. 1, 7.2.1)
  std::int64_t integer(std::int64_t least, std::int64_t most);
  bool boolean();                 // 0 or 1
  std::string character();        // upper case
  std::string string();           // quoted, doubled quotes undone
  std::string_view block();       // the data of a definite-length block
  std::vector<double> numbers();  // all elements up to the end of the unit
  std::string_view rest();        // arbitrary ASCII: everything that is left

  bool at_end() const;       // nothing left
  bool at_unit_end() const;  // ';' or nothing left
  void next_unit();          // steps over ';'
  void end() const;          // throws unless at_end()

 private:
  void before_element();
  void after_element();
  void skip_space();
  std::string_view plain_element();
  [[noreturn]] void refuse(std::string_view expected) const;

  std::string_view message_;
  std::size_t at_ = 0;
  std::size_t element_ = 0;  // where the element at hand begins
  bool first_ = true;
};

}  // namespace eyelevel::scpi
