// SPDX-License-Identifier: Apache-2.0
#include "core/signal/wav.hpp"

#include <catch2/catch.hpp>

#include "tests/core/signal/refusal.hpp"
#include "tests/support/whole_waveform.hpp"

using namespace eyelevel;

namespace {

void put(std::string& into, std::uint64_t value, int bytes) {
  for (int i = 0; i < bytes; ++i) into += static_cast<char>(value >> (8 * i) & 0xff);
}

struct Wav {
  int kind = 1, channels = 1, bits = 16;
  std::uint32_t rate_hz = 44100;
  std::string data = {};
  bool is_extensible = false;
  std::optional<std::uint32_t> data_size = {};  // what the header says, if not the truth
  std::string before_data = {};
};

std::string text_of(const Wav& wav) {
  std::string format;
  put(format, wav.is_extensible ? 0xFFFE : static_cast<std::uint64_t>(wav.kind), 2);
  put(format, static_cast<std::uint64_t>(wav.channels), 2);
  put(format, wav.rate_hz, 4);
  put(format, std::uint64_t{wav.rate_hz} * static_cast<std::uint64_t>(wav.channels * wav.bits / 8), 4);
  put(format, static_cast<std::uint64_t>(wav.channels * wav.bits / 8), 2);
  put(format, static_cast<std::uint64_t>(wav.bits), 2);
  if (wav.is_extensible) {
    put(format, 22, 2);
    put(format, static_cast<std::uint64_t>(wav.bits), 2);
    put(format, 0, 4);
    put(format, static_cast<std::uint64_t>(wav.kind), 2);
    format.append("\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71", 14);
  }
  std::string body = "WAVEfmt ";
  put(body, format.size(), 4);
  body += format + wav.before_data + "data";
  put(body, wav.data_size.value_or(static_cast<std::uint32_t>(wav.data.size())), 4);
  body += wav.data;
  std::string all = "RIFF";
  put(all, body.size(), 4);
  return all + body;
}

signal::ReadOptions named(std::optional<double> scale_v = 1.0) {
  signal::ReadOptions options;
  options.name = "pad.wav";
  options.scale_v = scale_v;
  return options;
}

test::StoredWaveform read(const std::string& text, const signal::ReadOptions& options = named()) {
  return test::read_whole(*signal::open_wav(std::as_bytes(std::span(text)), options));
}

std::vector<double> volts_of(const Wav& wav, const signal::ReadOptions& options = named()) {
  const std::string text = text_of(wav);
  const auto stored = read(text, options);
  std::vector<double> volts;
  for (std::size_t i = 0; i < stored.view().size(); ++i) volts.push_back(stored.view().volts(i));
  return volts;
}

std::string error_for(const std::string& text, const signal::ReadOptions& options = named()) {
  return test::refusal_of([&] { read(text, options); });
}

using Volts = std::vector<double>;

}  // namespace

TEST_CASE("wav: integers of 8, 16, 24 and 32 bits and float give the numbers in the file", "[signal]") {
  CHECK(volts_of({.bits = 8, .data = std::string("\x00\x80\xff", 3)}) == Volts{0, 128, 255});
  CHECK(volts_of({.bits = 16, .data = std::string("\x34\x12\xff\xff", 4)}) == Volts{0x1234, -1});
  CHECK(volts_of({.bits = 24, .data = std::string("\x56\x34\x12\xff\xff\xff\x00\x00\x80", 9)}) ==
        Volts{0x123456, -1, -8388608});
  CHECK(volts_of({.bits = 32, .data = std::string("\x00\x00\x00\x40\x00\x00\x00\x80", 8)}) ==
        Volts{1073741824, -2147483648.0});
  CHECK(volts_of({.kind = 3, .bits = 32, .data = std::string("\x00\x00\xc0\x3f", 4)}) == Volts{1.5});
  CHECK(volts_of({.bits = 16, .data = std::string("\x34\x12", 2), .is_extensible = true}) == Volts{0x1234});
}

TEST_CASE("wav: without a scale full scale is 1 V, and that is said", "[signal]") {
  CHECK(volts_of({.bits = 8, .data = std::string("\x00\x80\xc0", 3)}, named({})) == Volts{-1, 0, 0.5});
  CHECK(volts_of({.bits = 16, .data = std::string("\x00\x40\x00\x80", 4)}, named({})) == Volts{0.5, -1});
  CHECK(volts_of({.bits = 24, .data = std::string("\x00\x00\x40", 3)}, named({})) == Volts{0.5});
  CHECK(volts_of({.bits = 32, .data = std::string("\x00\x00\x00\x40", 4)}, named({})) == Volts{0.5});
  const std::string text = text_of({.channels = 2, .data = std::string("\1\0\2\0", 4)});
  CHECK(read(text, named({})).assumed() == std::vector<std::string>{"WAV of int16", "channel 1 of 2",
                                                                    "full scale is 1 V, as no --scale is given",
                                                                    "44.1 kSa/s"});
}

TEST_CASE("wav: one channel of several is read, the first if none is named", "[signal]") {
  const Wav wav{.channels = 2, .bits = 16, .data = std::string("\1\0\2\0\3\0\4\0", 8)};
  CHECK(volts_of(wav) == Volts{1, 3});
  auto options = named();
  options.channel = 2;
  CHECK(volts_of(wav, options) == Volts{2, 4});
  options.channel = 3;
  CHECK_THAT(error_for(text_of(wav), options), Catch::Contains("channel 3 is wanted, the file holds 2 channels"));
}

TEST_CASE("wav: a rate given beside counts before the header's, and both are said", "[signal]") {
  const std::string text = text_of({.rate_hz = 20000000, .data = std::string("\1\0", 2)});
  CHECK(read(text).view().rate_hz == 20e6);
  auto options = named();
  options.rate_hz = 50e6;
  CHECK(read(text, options).view().rate_hz == 50e6);
  CHECK(read(text, options).assumed().back() == "50 MSa/s as --rate says (the header: 20 MSa/s)");
  CHECK_THAT(error_for(text_of({.rate_hz = 0, .data = "\1\1"})), Catch::Contains("0 samples per second"));
}

TEST_CASE("wav: 16 bits of one channel stay in the file, chunks before them are passed over", "[signal]") {
  std::string other = "LIST";
  put(other, 3, 4);
  other += std::string("abc\0", 4);
  const std::string text = text_of({.data = std::string("\1\0\2\0", 4), .before_data = other});
  const auto stored = read(text);
  CHECK(stored.samples_are_borrowed());
  CHECK(stored.view().volts(1) == 2);
}

TEST_CASE("wav: beyond 4 GB the sizes stand in ds64, and a size never filled in means the rest of the file",
          "[signal]") {
  std::string sizes = "ds64";
  put(sizes, 24, 4);
  put(sizes, 0, 8);
  put(sizes, 2, 8);
  put(sizes, 0, 8);
  Wav wav{.data = std::string("\1\0\2\0", 4), .data_size = 0xFFFFFFFF, .before_data = sizes};
  CHECK(volts_of(wav) == Volts{1});
  wav.before_data.clear();
  CHECK(volts_of(wav) == Volts{1, 2});
  CHECK(read(text_of(wav)).assumed()[1] == "samples up to the end of the file, as its header leaves open");
}

TEST_CASE("wav: what is cut short, compressed or contradictory is refused with the byte", "[signal]") {
  const std::string whole = text_of({.data = std::string("\1\0\2\0", 4)});
  CHECK_THAT(error_for(whole.substr(0, 46)),
             Catch::Contains("pad.wav: byte 36: 4 bytes of samples announced, 2 follow"));
  CHECK_THAT(error_for(whole.substr(0, 30)), Catch::Contains("byte 12: a chunk of 16 bytes announced, 10 follow"));
  CHECK_THAT(error_for(whole.substr(0, 12)), Catch::Contains("ends without a chunk \"data\""));
  CHECK_THAT(error_for(text_of({.kind = 2, .bits = 4, .data = "ab"})),
             Catch::Contains("samples of kind 2 with 4 bits"));
  CHECK_THAT(error_for(text_of({.channels = 0, .data = "ab"})), Catch::Contains("0 channels"));
  CHECK_THAT(error_for(text_of({.data = "abc"})), Catch::Contains("not a whole number of frames"));
  CHECK_THAT(error_for(text_of({})), Catch::Contains("holds no samples"));
  CHECK_THAT(error_for(std::string("RIFFxxxxWAVEdata\4\0\0\0abcd", 24)),
             Catch::Contains("ends without") || Catch::Contains("without a chunk"));
  CHECK_THAT(error_for("time,volts"), Catch::Contains("does not begin as a WAV file does"));
}
