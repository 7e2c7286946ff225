// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"

using namespace eyelevel;

namespace {

signal::ReadOptions named() {
  signal::ReadOptions options;
  options.name = "pad.csv";
  return options;
}

std::string error_for(const std::string& text, const signal::ReadOptions& options = named()) {
  try {
    signal::read_csv(text, options);
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_input);
    return error.record().where + ": " + error.record().message;
  }
  return "was read";
}

void check_read(const std::string& text, double rate_hz, const std::vector<float>& volts,
                const signal::ReadOptions& options = named()) {
  CAPTURE(text);
  const auto stored = signal::read_csv(text, options);
  CHECK(stored.view().rate_hz == Approx(rate_hz).epsilon(1e-9));
  const auto held = std::get<std::span<const float>>(stored.view().codes);
  CHECK(std::vector<float>(held.begin(), held.end()) == volts);
}

}  // namespace

TEST_CASE("csv: time and volts are read whatever parts the columns and heads them", "[signal]") {
  const std::vector<float> volts{1.5F, -0.25F, 2e-3F};
  check_read("0,1.5\n1e-6,-0.25\n2e-6,2e-3\n", 1e6, volts);
  check_read("time,volts\r\n0,1.5\r\n1e-6,-.25\r\n2e-6,+2E-3", 1e6, volts);
  check_read("\xef\xbb\xbf# pad of unit 3\n\nRecord Length,3\nTIME;CH1\n-1e-6; 1.5\n 0 ;-0.25;\n1e-6;0.002\n\n", 1e6,
             volts);
  check_read("0\t1.5\n1e-6\t-0.25\n2e-6\t2e-3\n", 1e6, volts);
  check_read("0   1.5\n1e-6 -0.25\n2e-6  2e-3\n", 1e6, volts);
}

TEST_CASE("csv: one column takes its rate, scale and offset from beside", "[signal]") {
  signal::ReadOptions options = named();
  CHECK_THAT(error_for("volts\n1\n2\n"), Catch::Contains("pad.csv: has one column"));
  options.rate_hz = 20e6;
  check_read("volts\n1\n2\n", 20e6, {1, 2}, options);
  options.scale_v = 0.5;
  options.offset_v = 1.0;
  check_read("1\n2\n", 20e6, {1.5F, 2}, options);
  options.scale_v = 0.0;
  CHECK_THAT(error_for("1\n2\n", options), Catch::Contains("other than 0"));
}

TEST_CASE("csv: a rate beside the times must agree with them", "[signal]") {
  signal::ReadOptions options = named();
  options.rate_hz = 1.001e6;
  check_read("0,1\n1e-6,2\n", 1.001e6, {1, 2}, options);
  options.rate_hz = 2e6;
  CHECK_THAT(error_for("0,1\n1e-6,2\n", options),
             Catch::Contains("times give 1e+06 samples per second, --rate says 2e+06"));
  options.rate_hz = 0.0;
  CHECK_THAT(error_for("0,1\n1e-6,2\n", options), Catch::Contains("above 0"));
}

TEST_CASE("csv: times rounded by the instrument are even enough, a lost line is not", "[signal]") {
  check_read("0.0000,1\n0.0033,2\n0.0067,3\n0.0100,4\n", 300, {1, 2, 3, 4});
  CHECK_THAT(error_for("0,1\n1,2\n2,3\n4,4\n5,5\n6,6\n7,7\n8,8\n"),
             Catch::Contains("pad.csv:4: time 4 s lies 0.50 samples off even spacing"));
  CHECK_THAT(error_for("0,1\n0,2\n"), Catch::Contains("expected to rise"));
  CHECK_THAT(error_for("1,1\n0,2\n"), Catch::Contains("expected to rise"));
  CHECK_THAT(error_for("1,1\n"), Catch::Contains("one sample"));
}

TEST_CASE("csv: mistakes are named by line and column", "[signal]") {
  CHECK_THAT(error_for("time,volts\n0,1\n1,x7\n"), Catch::Contains("pad.csv:3:3: \"x7\" is not a number"));
  CHECK_THAT(error_for("0,1\nabc,2\n"), Catch::Contains("pad.csv:2:1: \"abc\""));
  CHECK_THAT(error_for("0,1\n1\n"), Catch::Contains("pad.csv:2: has 1 column, the lines before have 2"));
  CHECK_THAT(error_for("0,1,5\n1,2,5\n"), Catch::Contains("pad.csv:1: has more than two columns"));
  CHECK_THAT(error_for("0;1,5\n"), Catch::Contains("pad.csv:1:3: \"1,5\" is not a number"));
  CHECK_THAT(error_for("0,1\n1,nan\n"), Catch::Contains("pad.csv:2:3: sample 1 (counted from 0) is \"nan\""));
  CHECK_THAT(error_for("0,1\n1,2\n2,-inf\n"), Catch::Contains("sample 2 (counted from 0) is \"-inf\""));
  CHECK_THAT(error_for("0,1e999\n"), Catch::Contains("sample 0 (counted from 0)"));
  CHECK_THAT(error_for("0,1e200\n"), Catch::Contains("not a voltage"));
}

TEST_CASE("csv: what holds no numbers is refused, long texts early", "[signal]") {
  CHECK_THAT(error_for(""), Catch::Contains("pad.csv: is empty"));
  CHECK_THAT(error_for(" \n\r\n"), Catch::Contains("holds no line of numbers"));
  CHECK_THAT(error_for("Dear reader,\nthis is a letter.\n"), Catch::Contains("holds no line of numbers"));
  std::string letter;
  for (int i = 0; i < 1000; ++i) letter += "word\n";
  CHECK_THAT(error_for(letter), Catch::Contains("pad.csv:65: no numbers in the first 64 lines"));
}

TEST_CASE("csv: what is written reads back to the same volts and rate", "[signal]") {
  const std::vector<std::int8_t> codes{-128, 0, 1, 127};
  const signal::WaveformView view{std::span(codes), 20e6, 0.0125, 1.6, std::nullopt};
  const std::string text = signal::write_csv(view);
  CHECK(text.substr(0, 24) == "time_s,volts\n0,0\n5e-08,1");
  const auto back = signal::read_csv(text, named());
  CHECK(back.view().rate_hz == Approx(20e6).epsilon(1e-9));
  for (std::size_t i = 0; i < codes.size(); ++i) CHECK(back.view().volts(i) == Approx(view.volts(i)).epsilon(1e-7));
}
