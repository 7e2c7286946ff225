// SPDX-License-Identifier: Apache-2.0
// Headers and codes as bytes, with volts computed by hand.
#include "instruments/phrasebook/waveform_layout.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "core/yaml/load.hpp"
#include "tests/support/mistakes.hpp"

using namespace eyelevel;
using phrasebook::WaveformLayout;

namespace {

WaveformLayout numbered() {
  WaveformLayout layout;
  layout.header = WaveformLayout::Header::numbered;
  layout.points = "3";
  layout.interval = "5";
  layout.step = "8";
  layout.origin_volts = "9";
  layout.reference_code = "10";
  layout.is_signed = false;
  return layout;
}

WaveformLayout keyed() {
  WaveformLayout layout;
  layout.header = WaveformLayout::Header::keyed;
  layout.points = "NR";
  layout.interval = "XINC";
  layout.step = "MULT";
  layout.reference_code = "OFF";
  layout.origin_volts = "ZERO";
  return layout;
}

std::string refused(std::string_view header, const WaveformLayout& layout) {
  try {
    phrasebook::scale_from(header, layout);
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_answer);
    return error.record().message;
  }
  return "";
}

std::vector<double> volts_of(std::string_view header, std::string_view bytes, const WaveformLayout& layout) {
  const auto scale = phrasebook::scale_from(header, layout);
  signal::Waveform waveform;
  waveform.codes = phrasebook::codes_for(layout, scale.points, {});
  phrasebook::append_codes(bytes, layout, waveform.codes);
  phrasebook::set_scale(scale, layout, waveform);
  std::vector<double> volts;
  for (std::size_t i = 0; i < waveform.size(); ++i) volts.push_back(waveform.view().volts(i));
  return volts;
}

std::string said(const std::string& text) {
  yaml::Document document = yaml::load_text("p.yaml", text);
  yaml::Mistakes mistakes = std::move(document.mistakes);
  phrasebook::read_layout(document.root, mistakes);
  return test::printed(mistakes);
}

}  // namespace

TEST_CASE("waveform layout: unsigned codes by a numbered header", "[phrasebook]") {
  const std::string header = "0,0,3,1,+1.0E-09,-5.0E-07,0,4.0E-03,1.5E+00,128";
  const auto scale = phrasebook::scale_from(header, numbered());
  CHECK(scale.points == 3);
  CHECK(scale.interval_s == 1e-9);
  // (code - 128) x 4 mV + 1.5 V at codes 0, 128 and 255.
  const auto volts = volts_of(header, std::string_view("\x00\x80\xFF", 3), numbered());
  REQUIRE(volts.size() == 3);
  CHECK(volts[0] == Approx(0.988));
  CHECK(volts[1] == Approx(1.5));
  CHECK(volts[2] == Approx(2.008));
}

TEST_CASE("waveform layout: 16 bits, in either order of bytes, signed or not", "[phrasebook]") {
  WaveformLayout layout = numbered();
  layout.bits = 16;
  const std::string header = "1,0,2,1,1E-9,0,0,1E-4,0,32768";
  // Codes 0x8001 and 0x00FF: 1 and -32513 from the reference, 0.1 mV each.
  const auto low_first = volts_of(header, std::string_view("\x01\x80\xFF\x00", 4), layout);
  CHECK(low_first[0] == Approx(1e-4));
  CHECK(low_first[1] == Approx(-3.2513));
  layout.low_byte_first = false;
  CHECK(volts_of(header, std::string_view("\x80\x01\x00\xFF", 4), layout) == low_first);
  layout.is_signed = true;
  // 0x8001 is -32767, less the reference of 32768: -65535 x 0.1 mV.
  CHECK(volts_of(header, std::string_view("\x80\x01\x00\xFF", 4), layout)[0] == Approx(-6.5535));
}

TEST_CASE("waveform layout: signed codes by a keyed header, keys in any order and case, separators inside text",
          "[phrasebook]") {
  const std::string header =
      "NAME \"Channel 1, d.c.; XINC 7\";mult 1.0E-2;OFF -2.0E1;NR 3;XINC 4.0E-8;ZERO 5.0E-1;UNIT 'V;s'";
  // (code + 20) x 10 mV + 0.5 V at codes -128, 0, 127.
  const auto volts = volts_of(header, std::string_view("\x80\x00\x7F", 3), keyed());
  CHECK(volts[0] == Approx(-0.58));
  CHECK(volts[1] == Approx(0.7));
  CHECK(volts[2] == Approx(1.97));
  CHECK(phrasebook::scale_from(header, keyed()).interval_s == 4e-8);
}

TEST_CASE("waveform layout: reference and origin are both taken from the code", "[phrasebook]") {
  WaveformLayout layout = numbered();
  layout.origin_volts.clear();
  layout.origin_code = "9";
  // (code - 128 - 20) x 10 mV.
  const auto volts = volts_of("0,0,1,1,1E-9,0,0,1E-2,20,128", std::string_view("\xA0", 1), layout);
  CHECK(volts[0] == Approx(0.12));
}

TEST_CASE("waveform layout: a header that cannot be is refused with the field and its place", "[phrasebook]") {
  CHECK(refused("0,0,3", numbered()) == "waveform header: interval is field 5, but only 3 came");
  CHECK(refused("0,0,3,1,fast,0,0,1,0,0", numbered()) == "waveform header: interval (field 5) is no number: 'fast'");
  CHECK(refused("0,0,3,1,1 s,0,0,1,0,0", numbered()) == "waveform header: interval (field 5) is no number: '1 s'");
  CHECK(refused("0,0,3,1,,0,0,1,0,0", numbered()) == "waveform header: interval (field 5) is no number: ''");
  CHECK(refused("0,0,3,1,1E99999,0,0,1,0,0", numbered()) ==
        "waveform header: interval (field 5) is no number: '1E99999'");
  CHECK(refused("0,0,-3,1,1,0,0,1,0,0", numbered()) == "waveform header: -3 points");
  CHECK(refused("0,0,9E18,1,1,0,0,1,0,0", numbered()) == "waveform header: 9e+18 points");
  CHECK(refused("0,0,3,1,0,0,0,1,0,0", numbered()) == "waveform header: an interval of 0 s");
  CHECK(refused("0,0,3,1,1,0,0,0,0,0", numbered()) == "waveform header: a step of 0 V");
  CHECK(refused("NR 3;MULT 1;OFF 0;ZERO 0", keyed()) ==
        "waveform header: interval has the key XINC, which did not come");
  CHECK(refused("", keyed()) == "waveform header: points has the key NR, which did not come");
  CHECK(refused("\"never closed, NR 3", keyed()) == "waveform header: points has the key NR, which did not come");
  CHECK(refused(std::string(5000, ','), numbered()) == "a waveform header of 5000 bytes; 4096 are the most");
  CHECK(refused("0,0,3,1,\x01\xFF,0,0,1,0,0", numbered()) ==
        "waveform header: interval (field 5) is no number: '" + base::escaped("\x01\xFF") + "'");
}

TEST_CASE("waveform layout: the memory of another record of the same width is used again", "[phrasebook]") {
  signal::Codes spare = std::vector<std::int8_t>(100);
  const void* memory = std::get<std::vector<std::int8_t>>(spare).data();
  WaveformLayout layout;
  const signal::Codes codes = phrasebook::codes_for(layout, 50, std::move(spare));
  CHECK(std::get<std::vector<std::int8_t>>(codes).data() == memory);
  CHECK(std::get<std::vector<std::int8_t>>(codes).empty());
  layout.bits = 16;
  CHECK(std::get<std::vector<std::int16_t>>(phrasebook::codes_for(layout, 50, codes)).capacity() >= 50);
}

TEST_CASE("waveform layout: mistakes", "[phrasebook]") {
  const std::string good =
      "header fields: numbered\nfield of points: 3\nfield of interval: 5\nfield of step: 8\ncodes are: unsigned\n"
      "bits per code: 8\n";
  CHECK(said(good).empty());
  CHECK(said("pause after settings: 20 ms\n").empty());
  CHECK(
      said("header fields: keyed\nfield of points: NR\nfield of interval: 5\ncodes are: signed\nbits per code: 9\n") ==
      "p.yaml:1:1: 'field of step' is missing beside 'header fields'; write field of step: 5, or the key that "
      "stands there\np.yaml:5:16: 'bits per code': 9 bits are not known; write 8 or 16");
  CHECK(said(good + "field of origin code: YOR\n") ==
        "p.yaml:7:23: 'field of origin code': 'YOR' is no place in such a header; write the number of the field, from "
        "1");
  CHECK(said(good + "field of origin code: 0\nfirst point is: 2\npause after settings: 1 min\n") ==
        "p.yaml:9:23: 'pause after settings': expected 0 s to 10 s; write pause after settings: 20 ms\n"
        "p.yaml:7:23: 'field of origin code': '0' is no place in such a header; write the number of the field, from "
        "1\np.yaml:8:17: 'first point is': expected 0 or 1; write how the handbook counts points");
  CHECK(said("header fields: keyed\nfield of points: N R\nfield of interval: X\nfield of step: Y\n") ==
        "p.yaml:2:18: 'field of points': 'N R' is no place in such a header; write the key that stands before the "
        "value\np.yaml:1:1: 'codes are' is missing beside 'header fields'; write codes are: unsigned\n"
        "p.yaml:1:1: 'bits per code' is missing beside 'header fields'; write bits per code: 8");
}
