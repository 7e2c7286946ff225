// SPDX-License-Identifier: Apache-2.0
// Errors of the receiving side of SCPI: a number of the standard list (SCPI-99 Vol. 2, 21.8) with a device detail.
// Thrown while a program message is parsed or executed, caught by the instrument, which puts it into its error queue.
// Not for the client: what it cannot understand is a base::Error(bad_answer).
#pragma once

#include <cstdint>
#include <exception>
#include <string>
#include <string_view>
#include <utility>

namespace eyelevel::scpi {

class CommandError : public std::exception {
 public:
  explicit CommandError(int number, std::string detail = {});

  int number() const noexcept { return number_; }
  const std::string& detail() const noexcept { return detail_; }
  const char* what() const noexcept override { return text_.c_str(); }

 private:
  int number_;
  std::string detail_;
  std::string text_;
};

// The standard text of a number, or of its class for an unlisted negative one; "Device-specific error" for positive
// ones.
std::string_view standard_text(int number);

// The bit of the standard event status register that a number of this class sets (IEEE 488.2, 11.5.1); 0 for number 0.
std::uint8_t event_status_bit(int number);

}  // namespace eyelevel::scpi
