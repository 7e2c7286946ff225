// SPDX-License-Identifier: Apache-2.0
#include "core/signal/raw.hpp"

#include <catch2/catch.hpp>

#include "tests/core/signal/refusal.hpp"
#include "tests/support/whole_waveform.hpp"

using namespace eyelevel;

namespace {

signal::ReadOptions asked(std::string_view format, std::optional<double> scale_v = 1.0) {
  signal::ReadOptions options;
  options.name = "pad.bin";
  options.rate_hz = 20e6;
  options.scale_v = scale_v;
  options.format = signal::raw_format_named(format);
  return options;
}

std::vector<double> volts_of(std::vector<std::uint8_t> bytes, const signal::ReadOptions& options) {
  const auto stored = test::read_whole(*signal::open_raw(std::as_bytes(std::span(bytes)), options));
  std::vector<double> volts;
  for (std::size_t i = 0; i < stored.view().size(); ++i) volts.push_back(stored.view().volts(i));
  return volts;
}

std::string error_for(const std::vector<std::uint8_t>& bytes, const signal::ReadOptions& options) {
  return test::refusal_of([&] { test::read_whole(*signal::open_raw(std::as_bytes(std::span(bytes)), options)); });
}

using Volts = std::vector<double>;

}  // namespace

TEST_CASE("raw: every format gives the numbers that its bytes mean", "[signal]") {
  CHECK(volts_of({0x00, 0x7f, 0x80, 0xff}, asked("int8")) == Volts{0, 127, -128, -1});
  CHECK(volts_of({0x00, 0x7f, 0x80, 0xff}, asked("uint8")) == Volts{0, 127, 128, 255});
  CHECK(volts_of({0x34, 0x12, 0xff, 0xff}, asked("int16le")) == Volts{0x1234, -1});
  CHECK(volts_of({0x34, 0x12, 0xff, 0xff}, asked("int16")) == Volts{0x1234, -1});
  CHECK(volts_of({0x12, 0x34, 0xff, 0xff}, asked("int16be")) == Volts{0x1234, -1});
  CHECK(volts_of({0x34, 0x12, 0xff, 0xff}, asked("uint16le")) == Volts{0x1234, 65535});
  CHECK(volts_of({0x12, 0x34, 0x00, 0x00}, asked("uint16be")) == Volts{0x1234, 0});
  // 1.5 is 0x3fc00000 and 0x3ff8000000000000 (IEEE 754).
  CHECK(volts_of({0, 0, 0xc0, 0x3f}, asked("float32le")) == Volts{1.5});
  CHECK(volts_of({0x3f, 0xc0, 0, 0}, asked("float32be")) == Volts{1.5});
  CHECK(volts_of({0, 0, 0, 0, 0, 0, 0xf8, 0x3f}, asked("float64le")) == Volts{1.5});
  CHECK(volts_of({0x3f, 0xf8, 0, 0, 0, 0, 0, 0}, asked("float64be")) == Volts{1.5});
}

TEST_CASE("raw: scale and offset are volts for the number in the file, unsigned numbers included", "[signal]") {
  auto options = asked("uint8", 0.5);
  options.offset_v = 1;
  CHECK(volts_of({0, 128, 255}, options) == Volts{1, 65, 128.5});
  options = asked("float32le", {});
  CHECK(volts_of({0, 0, 0xc0, 0x3f}, options) == Volts{1.5});
}

TEST_CASE("raw: the samples of a file larger than memory are not copied", "[signal]") {
  alignas(4) const std::array<std::byte, 8> bytes{};
  for (const char* format : {"int8", "int16le", "float32le"}) {
    CAPTURE(format);
    const auto stored = test::read_whole(*signal::open_raw(bytes, asked(format)));
    CHECK(stored.samples_are_borrowed());
    std::visit([&](const auto& codes) { CHECK(static_cast<const void*>(codes.data()) == bytes.data()); },
               stored.view().codes);
  }
}

TEST_CASE("raw: what is missing or wrong is named with the option that mends it", "[signal]") {
  auto options = asked("int8");
  options.rate_hz.reset();
  CHECK_THAT(error_for({1}, options), Catch::Contains("pad.bin: bare samples do not carry their sample rate"));
  CHECK_THAT(error_for({1}, asked("int8", {})), Catch::Contains("nothing says what a code is worth"));
  CHECK_THAT(error_for({1, 2, 3}, asked("int16le")), Catch::Contains("has 3 bytes, not a whole number of int16le"));
  CHECK_THAT(error_for({}, asked("int8")), Catch::Contains("is empty"));
  // 0x7fc00000 is a NaN.
  CHECK_THAT(error_for({0, 0, 0xc0, 0x3f, 0, 0, 0xc0, 0x7f}, asked("float32le")),
             Catch::Contains("sample 1 (counted from 0) is nan"));
  options = asked("int8");
  options.channel = 2;
  CHECK_THAT(error_for({1}, options), Catch::Contains("the file holds 1 channel"));
  CHECK_THROWS_WITH(signal::raw_format_named("int12"), Catch::Contains("--format int12") && Catch::Contains("int16be"));
}

TEST_CASE("raw: what was assumed is said", "[signal]") {
  const std::array<std::byte, 2> bytes{};
  CHECK(test::read_whole(*signal::open_raw(bytes, asked("int16"))).assumed() ==
        std::vector<std::string>{"bare int16le samples", "20 MSa/s"});
}
