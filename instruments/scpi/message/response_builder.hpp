// SPDX-License-Identifier: Apache-2.0
// Builds a response message (IEEE 488.2 chapter 8) as a strict talker: elements of a unit joined by ',', units by ';',
// character data in upper case, NR3 with point and signed exponent. Appends to the caller's buffer, never the
// terminator.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>

namespace eyelevel::scpi {

class ResponseBuilder {
 public:
  explicit ResponseBuilder(std::string& out) : out_(out) {}

  void begin_unit();  // before each query's answer; the separator is written with the first element
  void nr1(std::int64_t value);
  void nr2(double value, int decimals);
  void nr3(double value, int digits = 10);  // significant digits; inf and nan become 9.9E+37, -9.9E+37, 9.91E+37
  void boolean(bool value) { nr1(value ? 1 : 0); }
  void character(std::string_view word);
  void string(std::string_view text);
  void arbitrary(std::string_view ascii);
  // A definite block whose bytes the caller fills in. Valid until the next call.
  std::span<char> block(std::size_t bytes);

  bool waiting() const { return !out_.empty(); }  // response bytes are waiting (MAV)

 private:
  void separate();

  std::string& out_;
  bool unit_begun_ = false;
  bool element_begun_ = false;
};

}  // namespace eyelevel::scpi
