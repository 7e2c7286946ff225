// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv.hpp"

#include <catch2/catch.hpp>

#include "tests/core/signal/refusal.hpp"
#include "tests/support/whole_waveform.hpp"

using namespace eyelevel;

namespace {

signal::ReadOptions named() {
  signal::ReadOptions options;
  options.name = "pad.csv";
  return options;
}

std::string error_for(const std::string& text, const signal::ReadOptions& options = named()) {
  return test::refusal_of([&] { test::read_whole(*signal::open_csv(text, options)); });
}

void check_read(const std::string& text, double rate_hz, const std::vector<float>& volts,
                const signal::ReadOptions& options = named()) {
  CAPTURE(text);
  const auto stored = test::read_whole(*signal::open_csv(text, options));
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
  CHECK_THAT(error_for("volts\n1\n2\n"),
             Catch::Contains("pad.csv: has 1 column of numbers") && Catch::Contains("no times"));
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
             Catch::Contains("pad.csv:4: time 4 s comes 2 s after the one before, expected 1 s"));
  CHECK_THAT(error_for("0,1\n0,2\n"), Catch::Contains("pad.csv:2") && Catch::Contains("expected to rise"));
  CHECK_THAT(error_for("1,1\n"), Catch::Contains("one sample"));
}

TEST_CASE("csv: mistakes are named by line and column", "[signal]") {
  CHECK_THAT(error_for("time,volts\n0,1\n1,x7\n"), Catch::Contains("pad.csv:3:3: \"x7\" is not a number"));
  CHECK_THAT(error_for("0,1\nabc,2\n"), Catch::Contains("pad.csv:2:1: \"abc\""));
  CHECK_THAT(error_for("0,1\n1\n"), Catch::Contains("pad.csv:2: has 1 column of numbers, the lines before have 2"));
  CHECK_THAT(error_for("0,1\n1,2\n2,3,5\n"),
             Catch::Contains("pad.csv:3: has 3 columns of numbers, the lines before have 2"));
  CHECK_THAT(error_for("0;1.5\n1;2.5\n2;3,5\n"), Catch::Contains("pad.csv:3:3: \"3,5\" is not a number"));
  CHECK_THAT(error_for("time,volts\n\n# a remark\n0,1\n1,2\nthe end\n"), Catch::Contains("pad.csv:6:1: \"the end\""));
  CHECK_THAT(error_for("0,1\n1,nan\n"), Catch::Contains("pad.csv:2:3: sample 1 (counted from 0) is \"nan\""));
  CHECK_THAT(error_for("0,1\n1,2\n2,-inf\n"), Catch::Contains("sample 2 (counted from 0) is \"-inf\""));
  CHECK_THAT(error_for("0,1e999\n"), Catch::Contains("sample 0 (counted from 0)"));
  CHECK_THAT(error_for("0,1e200\n"), Catch::Contains("not a voltage"));
}

TEST_CASE("csv: what holds no numbers is refused with the line where hope ended, long texts early", "[signal]") {
  CHECK_THAT(error_for(""), Catch::Contains("pad.csv: is empty"));
  CHECK_THAT(error_for(" \n\r\n"), Catch::Contains("holds no line of numbers"));
  CHECK_THAT(error_for("Dear reader,\nthis is a letter.\n"),
             Catch::Contains("pad.csv:2: no line of numbers from line 1 \"Dear reader,\" to here"));
  CHECK_THAT(error_for("1\n2 eggs\nmilk\n"), Catch::Contains("pad.csv:2:1: \"2 eggs\" is not a number"));
  std::string letter;
  for (int i = 0; i < 1000; ++i) letter += "word\n";
  CHECK_THAT(error_for(letter), Catch::Contains("pad.csv:256: no line of numbers from line 1"));
  CHECK_THAT(error_for(std::string("\xff\xfe"
                                   "1\0",
                                   4)),
             Catch::Contains("UTF-16"));
  CHECK_THAT(error_for(std::string("\x01\x02\0\x03", 4)), Catch::Contains("byte 2 is 0"));
}

TEST_CASE("csv: the heading names channels and units, the decimal sign is a comma, and what was assumed is said",
          "[signal]") {
  const std::string text =
      "\xef\xbb\xbf\"Zeit\";\"Kanal 1\";\"Kanal 2\"\r\n(us);(mV);(V)\r\n"
      "-0,05;1,5;2,5\r\n0,00;-2,5e1;2,25\r\n0,05;3;2\r\n";
  check_read(text, 20e6, {1.5e-3F, -25e-3F, 3e-3F});
  CHECK(test::read_whole(*signal::open_csv(text, named())).assumed() ==
        std::vector<std::string>{"semicolon-separated", "decimal comma", "2 header lines", "time in us",
                                 "channel 1 of 2 in mV", "20 MSa/s"});
  signal::ReadOptions options = named();
  options.channel = 2;
  check_read(text, 20e6, {2.5F, 2.25F, 2}, options);
  CHECK(test::read_whole(*signal::open_csv(text, options)).assumed()[4] == "channel 2 of 2 in V");
  options.channel = 3;
  CHECK_THAT(error_for(text, options), Catch::Contains("channel 3 is wanted, the file holds 2 channels"));
  options.channel = 0;
  CHECK_THAT(error_for(text, options), Catch::Contains("channel 0 is wanted"));
}

TEST_CASE("csv: without a column of times the heading's interval or rate counts, and --rate before it", "[signal]") {
  const std::vector<float> volts{0.512F, 0.498F, -0.05F};
  check_read("Abtastintervall;5,0E-08;s\nVolt\n0,512\n0,498\n-0,050\n", 20e6, volts);
  check_read("Sample Interval,50,ns\nCH1\n0.512\n0.498\n-0.05\n", 20e6, volts);
  check_read("# sample rate = 20 MSa/s\n0.512\n0.498\n-0.05\n", 20e6, volts);
  check_read("X,CH1,Start,Increment\nSequence,Volt,-1e-3,5e-8\n0,0.512,\n1,0.498,\n2,-0.05,\n", 20e6, volts);
  signal::ReadOptions options = named();
  options.rate_hz = 10e6;
  check_read("Sample Interval,50,ns\nCH1\n0.512\n0.498\n-0.05\n", 10e6, volts, options);
  // Two channels and no times: the first does not rise.
  check_read("0.512,1\n0.498,2\n-0.05,3\n", 10e6, volts, options);
}

TEST_CASE("csv: a heading beside the numbers costs none of them", "[signal]") {
  check_read("Record Length,3,,-1e-6,1.5\nSource,CH1,,0,2.5\n,,,1e-6,3.5\n,,,2e-6,4.5\n", 1e6,
             {1.5F, 2.5F, 3.5F, 4.5F});
}

TEST_CASE("csv: a column that counts the samples is not the time", "[signal]") {
  check_read("Point,Time (ms),CH1 (V)\n1,0.0,1.5\n2,0.5,2.5\n3,1.0,3.5\n", 2000, {1.5F, 2.5F, 3.5F});
}

TEST_CASE("csv: a column that is no voltage is refused unless its scale is given", "[signal]") {
  const std::string text = "Time (s),CH1 (mA)\n0,1\n1,2\n";
  CHECK_THAT(error_for(text), Catch::Contains("the column is in mA, expected V"));
  signal::ReadOptions options = named();
  options.scale_v = 0.5;
  check_read(text, 1, {0.5F, 1}, options);
}

TEST_CASE("csv: time that goes backwards is refused with its line", "[signal]") {
  CHECK_THAT(error_for("time,volts\n0,1.5\n1,2.5\n2,3.5\n0,1.5\n1,2.5\n"),
             Catch::Contains("pad.csv:5: time goes backwards: 0 s after 2 s"));
  CHECK_THAT(error_for("1,1\n0,2\n"), Catch::Contains("pad.csv:2: time goes backwards"));
}

TEST_CASE("csv: samples lost or doubled are named by their own line, however few or many lines there are", "[signal]") {
  CHECK_THAT(error_for("time,volts\n0,0.1\n1e-6,0.2\n3e-6,0.3\n4e-6,0.4\n"),
             Catch::Contains("pad.csv:4: time 3e-06 s comes 2e-06 s after the one before"));
  CHECK_THAT(error_for("time,volts\n0,0.1\n1,0.2\n1,0.3\n2,0.4\n3,0.5\n"),
             Catch::Contains("pad.csv:4: time 1 s comes 0 s"));
  // 1000 lines one second apart; after the 600th the time jumps by 100 s.
  std::string text = "time,volts\n";
  for (int i = 0; i < 1000; ++i) text += std::to_string(i < 600 ? i : i + 99) + ",0.5\n";
  CHECK_THAT(error_for(text),
             Catch::Contains("pad.csv:602: time 699 s comes 100 s after the one before, expected 1 s"));
}

TEST_CASE("csv: what is written reads back to the same volts and rate", "[signal]") {
  const std::vector<std::int8_t> codes{-128, 0, 1, 127};
  const signal::WaveformView view{std::span(codes), 20e6, 0.0125, 1.6, std::nullopt};
  const std::string text = signal::write_csv(view);
  CHECK(text.substr(0, 24) == "time_s,volts\n0,0\n5e-08,1");
  const auto back = test::read_whole(*signal::open_csv(text, named()));
  CHECK(back.view().rate_hz == Approx(20e6).epsilon(1e-9));
  for (std::size_t i = 0; i < codes.size(); ++i) CHECK(back.view().volts(i) == Approx(view.volts(i)).epsilon(1e-7));
}
