// SPDX-License-Identifier: Apache-2.0
#include "core/signal/stored.hpp"

#include <catch2/catch.hpp>

#include "tests/support/measurement_data.hpp"
#include "tests/support/whole_waveform.hpp"

using namespace eyelevel;

namespace {

test::StoredWaveform read(const std::string& text, const signal::ReadOptions& options) {
  return test::read_whole(*signal::open_waveform(std::as_bytes(std::span(text)), options));
}

}  // namespace

TEST_CASE("stored waveform: the format is told by the first bytes, not by the name", "[signal]") {
  signal::ReadOptions options;
  options.name = "pad.csv";
  options.rate_hz = 10e6;
  const std::string npy = test::data_file("npy/float32.npy");
  CHECK(read(npy, options).view().size() == 5);
  options.name = "pad.npy";
  const std::string csv = "1.5\n2.5\n";
  const auto stored = read(csv, options);
  CHECK(stored.view().size() == 2);
  CHECK(stored.view().volts(1) == 2.5);
}

TEST_CASE("stored waveform: a format beside the file is believed, whatever the bytes look like", "[signal]") {
  signal::ReadOptions options;
  options.rate_hz = 10e6;
  options.scale_v = 1.0;
  options.format = signal::RawFormat::int8;
  const std::string csv = "1.5\n";
  const auto stored = read(csv, options);
  CHECK(stored.view().size() == 4);
  CHECK(stored.view().volts(0) == '1');
}

TEST_CASE("stored waveform: rates are printed with the prefix that fits", "[signal]") {
  CHECK(signal::rate_text(44100) == "44.1 kSa/s");
  CHECK(signal::rate_text(20e6) == "20 MSa/s");
  CHECK(signal::rate_text(2.5e9) == "2.5 GSa/s");
  CHECK(signal::rate_text(0.5) == "0.5 Sa/s");
}

TEST_CASE("stored waveform: a moved one still shows its own samples", "[signal]") {
  signal::ReadOptions options;
  options.rate_hz = 10e6;
  const std::string csv = "1.5\n2.5\n";
  auto first = read(csv, options);
  const test::StoredWaveform second = std::move(first);
  CHECK_FALSE(second.samples_are_borrowed());
  CHECK(second.view().volts(0) == 1.5);
}
