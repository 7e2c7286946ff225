// SPDX-License-Identifier: Apache-2.0
// Streams of every format against the whole reading of the same bytes, which is another way through the same code: that
// the numbers are right is tested beside each format.
#include "core/signal/sample_stream.hpp"

#include <catch2/catch.hpp>

#include <algorithm>

#include "core/signal/raw.hpp"
#include "core/signal/stored.hpp"
#include "tests/core/signal/refusal.hpp"
#include "tests/support/measurement_data.hpp"
#include "tests/support/whole_waveform.hpp"

using namespace eyelevel;

namespace {

struct File {
  std::string name, bytes;
  signal::ReadOptions options;
};

std::unique_ptr<signal::SampleStream> open(const File& file, signal::Release release = {}) {
  return signal::open_waveform(std::as_bytes(std::span(file.bytes)), file.options, std::move(release));
}

signal::ReadOptions scaled() {
  signal::ReadOptions options;
  options.name = "pad";
  options.rate_hz = 20e6;
  options.scale_v = 0.5;
  options.offset_v = 0.25;
  return options;
}

File bare(std::string_view format, std::string bytes) {
  File file{std::string(format), std::move(bytes), scaled()};
  file.options.format = signal::raw_format_named(format);
  return file;
}

std::string wav(int kind, int channels, int bits, const std::string& data) {
  const auto number = [](std::uint64_t value, int bytes) {
    std::string text;
    for (int i = 0; i < bytes; ++i) text += static_cast<char>(value >> (8 * i) & 0xff);
    return text;
  };
  const auto frame = static_cast<std::uint64_t>(channels * bits / 8);
  return "RIFF" + number(36 + data.size(), 4) + "WAVEfmt " + number(16, 4) +
         number(static_cast<std::uint64_t>(kind), 2) + number(static_cast<std::uint64_t>(channels), 2) +
         number(20'000'000, 4) + number(20'000'000 * frame, 4) + number(frame, 2) +
         number(static_cast<std::uint64_t>(bits), 2) + "data" + number(data.size(), 4) + data;
}

// Bytes that are finite in every format: the high byte of a float lies between 0 and 0x3f at either end.
std::string some_bytes(std::size_t count) {
  std::string bytes(count, '\0');
  for (std::size_t i = 0; i < count; ++i) bytes[i] = static_cast<char>(i * 37 % 64);
  return bytes;
}

std::vector<File> files() {
  std::vector<File> all;
  for (const std::string name :
       {"int8", "int16", "int16_big_endian", "float32", "float64", "float64_big_endian", "column"}) {
    all.push_back({"npy of " + name, test::data_file("npy/" + name + ".npy"), scaled()});
  }
  for (const std::string format : {"int8", "uint8", "int16le", "int16be", "uint16le", "uint16be", "float32le",
                                   "float32be", "float64le", "float64be"}) {
    all.push_back(bare(format, some_bytes(8 * 13)));
  }
  for (const int bits : {8, 16, 24, 32}) {
    all.push_back({"WAV of " + std::to_string(bits), wav(1, 1, bits, some_bytes(48)), scaled()});
    all.push_back({"WAV of two times " + std::to_string(bits), wav(1, 2, bits, some_bytes(48)), scaled()});
    all.back().options.channel = 2;
  }
  all.push_back({"WAV of float", wav(3, 1, 32, some_bytes(48)), scaled()});
  all.push_back({"CSV with times", "time,volts\n\n0,1\n5e-8,2\n# a remark\n1e-7,3\n1.5e-7,4\n2e-7,5\n\n", {}});
  all.push_back({"CSV without times", "mV\r\n1,5\r\n-2,5\r\n3,25\r\n0,5", scaled()});
  return all;
}

template <class Code>
std::vector<Code> codes_of(const signal::CodesView& view) {
  const auto codes = std::get<std::span<const Code>>(view);
  return {codes.begin(), codes.end()};
}

void check_blocks_of(std::size_t most, const File& file, const signal::WaveformView& whole) {
  CAPTURE(file.name, most);
  const auto stream = open(file);
  CHECK(stream->about().rate_hz == whole.rate_hz);
  CHECK(stream->about().scale_v == whole.scale_v);
  CHECK(stream->about().offset_v == whole.offset_v);
  REQUIRE(stream->about().codes.index() == whole.codes.index());
  CHECK(stream->about().size() == 0);
  std::visit(
      [&]<class Code>(std::span<const Code>) {
        std::vector<Code> together;
        while (true) {
          const auto block = codes_of<Code>(stream->next(most));
          if (block.empty()) break;
          CHECK(block.size() == std::min(most, whole.size() - together.size()));
          together.insert(together.end(), block.begin(), block.end());
        }
        CHECK(together == codes_of<Code>(whole.codes));
      },
      whole.codes);
}

// One second apart, but for two at the time `jump_at`. Time i stands in line i + 1.
std::string lines_with_times(std::size_t count, std::size_t jump_at) {
  std::string text;
  for (std::size_t i = 0; i < count; ++i) text += std::to_string(i < jump_at ? i : i + 1) + ",0.5\n";
  return text;
}

}  // namespace

TEST_CASE("sample stream: blocks of any size give the samples and the scale of the whole, in every format",
          "[signal]") {
  for (const File& file : files()) {
    const auto stored = test::read_whole(*open(file));
    REQUIRE(stored.view().size() >= 4);
    CHECK(stored.assumed() == open(file)->assumed());
    for (std::size_t most = 1; most <= stored.view().size() + 1; ++most) check_blocks_of(most, file, stored.view());
  }
}

TEST_CASE("sample stream: what is converted comes in blocks that do not grow with the file", "[signal]") {
  constexpr std::size_t count = 2 * signal::SampleStream::block_most + 3;
  std::string lines;
  for (std::size_t i = 0; i < count; ++i) lines += static_cast<char>('0' + i % 10), lines += '\n';
  for (const File& file : {bare("uint8", some_bytes(count)), File{"CSV", std::move(lines), scaled()}}) {
    CAPTURE(file.name);
    const auto stream = open(file);
    CHECK_FALSE(stream->samples_are_borrowed());
    std::vector<std::size_t> sizes;
    while (true) {
      sizes.push_back(std::visit([](const auto& codes) { return codes.size(); }, stream->next(count)));
      if (sizes.back() == 0) break;
    }
    CHECK(sizes == std::vector<std::size_t>{signal::SampleStream::block_most, signal::SampleStream::block_most, 3, 0});
  }
}

TEST_CASE("sample stream: bytes are released in order once they are read, never those of the block in use",
          "[signal]") {
  constexpr std::size_t count = 5'000'000;
  for (const std::string format : {"int8", "uint8"}) {
    CAPTURE(format);
    const File file = bare(format, some_bytes(count));
    std::size_t given = 0, before = 0, released = 0;
    const auto stream = open(file, [&](std::size_t from, std::size_t to) {
      CHECK(from == released);
      CHECK(to <= given);
      released = to;
    });
    while (given < count) {
      before = given;
      given += std::visit([](const auto& codes) { return codes.size(); }, stream->next(300'000));
      CHECK(released <= before);
    }
    CHECK(count - released < 2'000'000);
    CHECK(stream->bytes_passed() == released);
  }
}

TEST_CASE("sample stream: a CSV with times is released on each reading, to within a megabyte or two", "[signal]") {
  const File file{"CSV", lines_with_times(300'000, 300'000), {}};
  REQUIRE(file.bytes.size() > 3'000'000);
  std::size_t readings = 0, released = 0;
  const auto release = [&](std::size_t from, std::size_t to) {
    if (from == 0) {
      ++readings;
      released = 0;
    }
    CHECK(from == released);
    CHECK(to - from < 1'200'000);
    released = to;
  };
  const auto stream = open(file, release);
  CHECK(readings == 1);
  CHECK(file.bytes.size() - released < 1'200'000);
  test::read_whole(*stream);
  CHECK(readings == 2);
  CHECK(file.bytes.size() - released < 1'200'000);
}

TEST_CASE("sample stream: mistakes far into a file are named as near its beginning", "[signal]") {
  const auto refusal = [](const File& file) { return test::refusal_of([&] { test::read_whole(*open(file)); }); };
  signal::ReadOptions named;
  named.name = "pad.csv";
  CHECK_THAT(refusal({"lost line", lines_with_times(200'000, 150'000), named}),
             Catch::Contains("pad.csv:150001: time 150001 s comes 2 s after the one before, expected 1 s"));
  CHECK_THAT(refusal({"broken line", lines_with_times(200'000, 200'000) + "200000,0.5x\n", named}),
             Catch::Contains("pad.csv:200001:8: \"0.5x\" is not a number"));
  // A broken line is a better reason than what is wrong with the file as a whole, and the first than the last.
  CHECK_THAT(refusal({"two broken lines", lines_with_times(100'000, 90'000) + "x,0.5\n7,8,9\n", named}),
             Catch::Contains("pad.csv:100001:1: \"x\""));
  CHECK_THAT(refusal({"broken and uneven", lines_with_times(100'000, 50'000) + "x,0.5\n100002,0.5\n", named}),
             Catch::Contains("pad.csv:100001:1: \"x\""));
  named.rate_hz = 2.0;
  CHECK_THAT(refusal({"uneven and another rate", lines_with_times(100'000, 50'000), named}),
             Catch::Contains("pad.csv:50001: time 50001 s"));
  File floats = bare("float32le", std::string(4'000'000, '\0') + std::string("\x00\x00\xc0\x7f", 4));
  CHECK_THAT(refusal(floats), Catch::Contains("sample 1000000 (counted from 0) is nan"));
}

TEST_CASE("sample stream: blocks before a mistake come, the block of the mistake does not", "[signal]") {
  const File file{"CSV", "1\n2\n3\n4\n5x\n6\n", scaled()};
  const auto stream = open(file);
  CHECK(codes_of<float>(stream->next(2)).size() == 2);
  CHECK(codes_of<float>(stream->next(2)).size() == 2);
  CHECK_THAT(test::refusal_of([&] { stream->next(2); }), Catch::Contains("pad:5:1: \"5x\""));
}
