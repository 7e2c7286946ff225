// SPDX-License-Identifier: Apache-2.0
// The files of tests/data/npy were written by numpy, not by us.
#include "core/signal/npy.hpp"

#include <catch2/catch.hpp>

#include <cstring>

#include "core/base/error.hpp"
#include "tests/support/measurement_data.hpp"
#include "tests/support/whole_waveform.hpp"

using namespace eyelevel;

namespace {

std::span<const std::byte> bytes_of(const std::string& text) { return std::as_bytes(std::span(text)); }

signal::ReadOptions options_for(const std::string& name) {
  signal::ReadOptions options;
  options.name = name;
  options.rate_hz = 20e6;
  options.scale_v = 0.01;
  options.offset_v = 1.6;
  return options;
}

signal::ReadOptions volts_in(const std::string& name) {
  signal::ReadOptions options;
  options.name = name;
  options.rate_hz = 20e6;
  return options;
}

std::vector<double> volts_of(const signal::WaveformView& view) {
  std::vector<double> volts;
  for (std::size_t i = 0; i < view.size(); ++i) volts.push_back(view.volts(i));
  return volts;
}

const std::vector<double> written_codes{-128, -1, 0, 1, 127};
const std::vector<double> written_volts{-1.5, 0, 0.25, 1.2, 2.930};

// A header as numpy lays it out, with any dictionary, followed by `data_size` zero bytes.
std::string made(const std::string& dictionary, std::size_t data_size) {
  std::string text = "\x93NUMPY";
  text += '\1';
  text += '\0';
  text += static_cast<char>(dictionary.size() & 0xff);
  text += static_cast<char>(dictionary.size() >> 8);
  return text + dictionary + std::string(data_size, '\0');
}

std::string message_for(const std::string& file, signal::ReadOptions options = options_for("pad.npy")) {
  try {
    test::read_whole(*signal::open_npy(bytes_of(file), options));
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_input);
    CHECK(error.record().where == "pad.npy");
    return error.record().message;
  }
  return "was read";
}

}  // namespace

TEST_CASE("npy: integer codes of numpy are read with the scale given beside", "[signal]") {
  for (const auto& [name, factor] : {std::pair{"int8", 1}, {"int16", 250}, {"int16_big_endian", 250}}) {
    CAPTURE(name);
    const std::string file = test::data_file("npy/" + std::string(name) + ".npy");
    const auto stored = test::read_whole(*signal::open_npy(bytes_of(file), options_for(name)));
    REQUIRE(stored.view().size() == written_codes.size());
    CHECK(stored.view().rate_hz == 20e6);
    for (std::size_t i = 0; i < written_codes.size(); ++i) {
      CHECK(stored.view().volts(i) == Approx(written_codes[i] * factor * 0.01 + 1.6).epsilon(1e-15));
    }
  }
}

TEST_CASE("npy: floats of numpy are volts, in either byte order, version and layout", "[signal]") {
  for (const std::string name : {"float32", "float64", "float64_big_endian", "column", "fortran", "version2"}) {
    CAPTURE(name);
    const std::string file = test::data_file("npy/" + name + ".npy");
    const auto volts = volts_of(test::read_whole(*signal::open_npy(bytes_of(file), volts_in(name))).view());
    REQUIRE(volts.size() == written_volts.size());
    for (std::size_t i = 0; i < volts.size(); ++i) {
      CHECK(volts[i] == static_cast<double>(static_cast<float>(written_volts[i])));
    }
  }
}

TEST_CASE("npy: samples that lie right are not copied, others are", "[signal]") {
  for (const std::string name : {"int8", "int16", "float32"}) {
    const std::string file = test::data_file("npy/" + name + ".npy");
    std::vector<double> aligned(file.size() / sizeof(double) + 2);  // storage aligned for every kind of sample
    auto* const place = reinterpret_cast<std::byte*>(aligned.data());
    std::memcpy(place, file.data(), file.size());
    const auto borrowed = test::read_whole(*signal::open_npy({place, file.size()}, options_for(name)));
    CHECK(borrowed.samples_are_borrowed());
    std::memmove(place + 1, place, file.size());
    const auto shifted = test::read_whole(*signal::open_npy({place + 1, file.size()}, options_for(name)));
    CHECK(shifted.samples_are_borrowed() == (name == "int8"));
    CHECK(volts_of(shifted.view()) ==
          volts_of(test::read_whole(*signal::open_npy(bytes_of(file), options_for(name))).view()));
  }
  const std::string doubles = test::data_file("npy/float64.npy");
  CHECK_FALSE(test::read_whole(*signal::open_npy(bytes_of(doubles), volts_in("float64"))).samples_are_borrowed());
}

TEST_CASE("npy: what cannot be a waveform is refused with what was there and what would be right", "[signal]") {
  CHECK_THAT(message_for(test::data_file("npy/two_rows.npy")), Catch::Contains("shape (2, 5)"));
  CHECK_THAT(message_for(test::data_file("npy/empty.npy")), Catch::Contains("holds no samples"));
  CHECK_THAT(message_for(test::data_file("npy/uint8.npy")),
             Catch::Contains("kind '|u1'") && Catch::Contains("float64"));
  CHECK_THAT(message_for(test::data_file("npy/complex.npy")), Catch::Contains("kind '<c8'"));
  CHECK_THAT(message_for(test::data_file("npy/object.npy")), Catch::Contains("never opened"));
  CHECK_THAT(message_for(test::data_file("npy/record.npy")), Catch::Contains("records"));
  CHECK_THAT(message_for(test::data_file("npy/nan.npy")), Catch::Contains("sample 2 (counted from 0) is nan"));
  CHECK_THAT(message_for(test::data_file("npy/infinite.npy")), Catch::Contains("sample 3 (counted from 0) is -inf"));
  CHECK_THAT(message_for("time,volts\n0,1\n"), Catch::Contains("no .npy file"));
}

TEST_CASE("npy: a file cut off anywhere or with bytes too many is refused", "[signal]") {
  const std::string file = test::data_file("npy/float32.npy");
  for (std::size_t size = 0; size < file.size(); ++size) {
    CAPTURE(size);
    CHECK(message_for(file.substr(0, size)) != "was read");
  }
  CHECK_THAT(message_for(file.substr(0, file.size() - 1)),
             Catch::Contains("byte 128: 5 samples of 4 bytes need 20 bytes, 19 follow"));
  CHECK_THAT(message_for(file + "x"), Catch::Contains("21 follow"));
}

TEST_CASE("npy: headers are read as text, nothing in them is trusted", "[signal]") {
  CHECK(message_for(made("{\"shape\":(2,),\"descr\":\"|i1\",\"fortran_order\":True}\n", 2)) == "was read");
  CHECK_THAT(message_for(made("{'descr': '|i1', 'fortran_order': False, 'shape': (99999999999999999999,), }", 2)),
             Catch::Contains("fits into memory"));
  CHECK_THAT(message_for(made("{'descr': '<f8', 'fortran_order': False, 'shape': (4611686018427387904, 1, 1), }", 2)),
             Catch::Contains("fits into memory"));
  CHECK_THAT(message_for(made("{'descr': '|i1', 'fortran_order': False, 'shape': (), }", 1)),
             Catch::Contains("one row"));
  CHECK_THAT(message_for(made("{'descr': '|i1', 'fortran_order': False}", 1)), Catch::Contains("'shape'"));
  CHECK_THAT(message_for(made("{'shape': (1,)}", 1)), Catch::Contains("'descr'"));
  CHECK_THAT(message_for(made("{'shape': (1,), 'colour': 'red'}", 1)), Catch::Contains("not 'colour'"));
  CHECK_THAT(message_for(made("{'shape': (1,), 'descr': '|i1', 'fortran_order': Maybe}", 1)),
             Catch::Contains("True or False"));
  CHECK_THAT(message_for(made("{'shape': (1,), 'descr': '|i1} ", 1)), Catch::Contains("closing quote"));
  CHECK_THAT(message_for(made("__import__('os')", 1)), Catch::Contains("expected '{'"));
  std::string newer = made("{'descr': '|i1', 'fortran_order': False, 'shape': (1,), }", 1);
  newer[6] = 9;
  CHECK_THAT(message_for(newer), Catch::Contains("version 9.0, expected 1, 2 or 3"));
  std::string long_header = made("{}", 0);
  long_header[9] = '\x7f';
  CHECK_THAT(message_for(long_header), Catch::Contains("2 bytes follow"));
}

TEST_CASE("npy: rate and scale that are missing or useless are named with the option that gives them", "[signal]") {
  const std::string codes = test::data_file("npy/int8.npy");
  signal::ReadOptions options;
  options.name = "pad.npy";
  CHECK_THAT(message_for(codes, options), Catch::Contains("sample rate"));
  options.rate_hz = 20e6;
  CHECK_THAT(message_for(codes, options), Catch::Contains("int8 codes"));
  options.scale_v = 0.0;
  CHECK_THAT(message_for(codes, options), Catch::Contains("other than 0"));
  options.scale_v = 1.0;
  options.rate_hz = -1.0;
  CHECK_THAT(message_for(codes, options), Catch::Contains("above 0"));
  options.rate_hz = 1.0;
  CHECK(message_for(codes, options) == "was read");
}

TEST_CASE("npy: what is written is byte for byte what numpy writes, and reads back", "[signal]") {
  std::vector<std::int8_t> bytes(written_codes.begin(), written_codes.end());
  std::vector<float> volts(written_volts.begin(), written_volts.end());
  std::vector<std::int16_t> words;
  for (const double code : written_codes) words.push_back(static_cast<std::int16_t>(code * 250));
  const auto text = [](const std::vector<std::byte>& written) {
    return std::string(reinterpret_cast<const char*>(written.data()), written.size());
  };
  CHECK(text(signal::write_npy({std::span<const std::int8_t>(bytes), 1, 1, 0, std::nullopt})) ==
        test::data_file("npy/int8.npy"));
  CHECK(text(signal::write_npy({std::span<const std::int16_t>(words), 1, 1, 0, std::nullopt})) ==
        test::data_file("npy/int16.npy"));
  CHECK(text(signal::write_npy({std::span<const float>(volts), 1, 1, 0, std::nullopt})) ==
        test::data_file("npy/float32.npy"));
}
