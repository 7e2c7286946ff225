// SPDX-License-Identifier: Apache-2.0
// How samples leave an instrument (SCPI-99 Vol. 2, ch. 9): ASCii, INTeger 8 and 16, REAL 32 and 64, either byte order.
// Codes become volts through a table of 256 entries made once for an answer: nothing is computed or formatted a sample.
#pragma once

#include <cstdint>
#include <span>

#include "instruments/scpi/message/response_builder.hpp"

namespace eyelevel::sim {

enum class SampleType { ascii, integer, real };

struct SampleFormat {
  SampleType type = SampleType::ascii;
  int length = 0;        // bits; ASCii: significant digits, 0 means 7
  bool swapped = false;  // least significant byte first
};

// volts = offset_v + code * step_v for 8-bit codes. 16-bit codes are 256 times as large.
struct SampleScale {
  double step_v = 1;
  double offset_v = 0;
};

void answer_codes(scpi::ResponseBuilder& response, std::span<const std::int8_t> codes, const SampleScale& scale,
                  const SampleFormat& format);
void answer_values(scpi::ResponseBuilder& response, std::span<const double> values, const SampleFormat& format);

}  // namespace eyelevel::sim
