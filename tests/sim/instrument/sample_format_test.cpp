// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/sample_format.hpp"

#include <catch2/catch.hpp>

#include <cstring>

using namespace eyelevel;
using namespace eyelevel::sim;

namespace {

std::string answer(const SampleFormat& format) {
  static constexpr std::int8_t codes[] = {-128, -1, 0, 127};
  std::string out;
  scpi::ResponseBuilder response(out);
  answer_codes(response, codes, {0.5, 1}, format);
  return out;
}

}  // namespace

TEST_CASE("sample formats: codes become volts by their scale in every form and byte order", "[sim]") {
  // Truth: 1 + 0.5 code = -63, 0.5, 1, 64.5; IEEE 754 single: C27C0000, 3F000000, 3F800000, 42810000.
  using namespace std::string_literals;
  CHECK(answer({SampleType::ascii, 5, false}) == "-6.3000E+01,5.0000E-01,1.0000E+00,6.4500E+01");
  CHECK(answer({SampleType::real, 32, false}) ==
        "#216\xC2\x7C\x00\x00\x3F\x00\x00\x00\x3F\x80\x00\x00\x42\x81\x00\x00"s);
  CHECK(answer({SampleType::real, 32, true}) ==
        "#216\x00\x00\x7C\xC2\x00\x00\x00\x3F\x00\x00\x80\x3F\x00\x00\x81\x42"s);
  CHECK(answer({SampleType::integer, 8, false}) == "#14\x80\xFF\x00\x7F"s);
  CHECK(answer({SampleType::integer, 16, false}) == "#18\x80\x00\xFF\x00\x00\x00\x7F\x00"s);
  CHECK(answer({SampleType::integer, 16, true}) == "#18\x00\x80\x00\xFF\x00\x00\x00\x7F"s);
  const auto wide = answer({SampleType::real, 64, true});
  CHECK(wide.substr(0, 4) == "#232");
  double first = 0;
  std::memcpy(&first, wide.data() + 4, sizeof first);
  CHECK(first == -63);
}

TEST_CASE("sample formats: values are converted and kept within what a form can hold", "[sim]") {
  using namespace std::string_literals;
  const double values[] = {1.4, -1e9};
  std::string out;
  scpi::ResponseBuilder response(out);
  answer_values(response, values, {SampleType::integer, 8, false});
  CHECK(out == "#12\x01\x80"s);
  out.clear();
  scpi::ResponseBuilder text(out);
  answer_values(text, values, {SampleType::ascii, 0, false});
  CHECK(out == "1.400000E+00,-1.000000E+09");
}
