// SPDX-License-Identifier: Apache-2.0
// The example reads as it is written; each mistake has its message, compared in full.
#include "core/bench/model_sheet.hpp"
#include "tests/support/mistakes.hpp"

#include <catch2/catch.hpp>

#include <string>

using namespace eyelevel;

namespace {

const std::string pad =
    "model: LF-9\npad: {where: TP2, coupling: dc, point: before equaliser, light raises voltage: yes, source "
    "resistance: 1 kΩ ± "
    "20 %}\n";
const std::string rest = "ground: TP1\nspeed: {audio: x1, data: x2, reading: continuous}\naudio track: press play\n";

bench::ModelSheetRead read(const std::string& text) { return bench::read_model_sheet(yaml::load_text("m.yaml", text)); }

std::string said(const std::string& text) { return test::printed(read(text).mistakes); }

}  // namespace

TEST_CASE("model sheet: the example says what it says", "[bench]") {
  const auto read = bench::read_model_sheet(std::filesystem::path("examples/models/lf-2.yaml"));
  for (const auto& m : read.mistakes.list()) FAIL_CHECK(yaml::print(m));
  const auto& sheet = read.sheet;
  CHECK(sheet.model == "LF-2");
  CHECK(sheet.cautions.size() == 3);
  CHECK(sheet.pad.coupling == bench::PadCoupling::dc);
  CHECK(sheet.pad.point == bench::PadPoint::before_equaliser);
  CHECK(sheet.pad.light_raises_voltage);
  CHECK(sheet.pad.source_resistance_ohm.value == Approx(1000));
  CHECK(sheet.pad.source_resistance_ohm.half_width == Approx(200));
  REQUIRE(sheet.reference);
  REQUIRE(sheet.reference->voltage_v);
  const auto document = yaml::load_file("examples/models/lf-2.yaml");
  const auto written = quantity::parse_span(document.root.find("reference")->find("voltage")->text, quantity::voltage);
  REQUIRE(written);
  CHECK(sheet.reference->voltage_v->value == *written->nominal);
  CHECK(sheet.speed.audio == 1);
  CHECK(sheet.speed.data == 2);
  CHECK_FALSE(sheet.speed.in_bursts);
  REQUIRE(sheet.trimmer);
  CHECK(sheet.trimmer->sense == bench::TrimmerSense::clockwise_raises);
  CHECK(sheet.trimmer->player_off_while_turning);
  REQUIRE(sheet.trimmer->resistance_ohm);
  CHECK(sheet.trimmer->resistance_ohm->value == Approx(5500));
  CHECK(sheet.trimmer->resistance_ohm->half_width == Approx(3500));
  REQUIRE(sheet.laser_current);
  CHECK(sheet.laser_current->label_a == Approx(0.045));
  CHECK(sheet.laser_current->series_resistor_ohm.value == Approx(10));
  CHECK(sheet.laser_current->has_power_loop == true);
  CHECK(sheet.mains == bench::Mains::isolated);
  REQUIRE(sheet.service_value);
  CHECK(sheet.service_value->level_v.value == Approx(1.2));
  CHECK(sheet.service_value->level_v.half_width == Approx(0.12));
  CHECK(sheet.service_value->read_as == bench::ReadAs::settled_levels);
  CHECK(sheet.order_of_adjustments.front() == "level");
  REQUIRE(sheet.pickup);
  CHECK(sheet.pickup->part == "LF-P2");
  CHECK(sheet.pickup->connectors.size() == 2);
  REQUIRE(sheet.visit);
  CHECK(sheet.visit->prefixes == std::vector<std::string>{"LF2-"});
  CHECK(sheet.visit->sequence == "ready/level-before-and-after.yaml");
}

TEST_CASE("model sheet: what it does not say stays empty", "[bench]") {
  const auto found = read(pad + rest);
  REQUIRE(found.mistakes.list().empty());
  CHECK_FALSE(found.sheet.trimmer);
  CHECK_FALSE(found.sheet.service_value);
  CHECK_FALSE(found.sheet.reference);
  CHECK_FALSE(found.sheet.laser_current);
  CHECK_FALSE(found.sheet.pickup);
  CHECK_FALSE(found.sheet.visit);
}

TEST_CASE("model sheet: a visit says how serials begin, and no beginning is empty", "[bench]") {
  const auto found = read(pad + rest + "visit: {serials begin with: [LF9-, 'X 9'], sequence: ready/a.yaml}\n");
  REQUIRE(found.mistakes.list().empty());
  CHECK(found.sheet.visit->prefixes == std::vector<std::string>{"LF9-", "X 9"});
  for (const std::string none : {"[]", "['']", "[LF9-, '']"}) {
    CAPTURE(none);
    const auto wrong = read(pad + rest + "visit: {serials begin with: " + none + ", sequence: ready/a.yaml}\n");
    REQUIRE(wrong.mistakes.list().size() == 1);
    CHECK(wrong.mistakes.list().front().line == 6);
  }
}

TEST_CASE("model sheet: a pad after the gain control, a.c. coupled, inverted, and bursts are read as such", "[bench]") {
  const auto found = read(
      "model: LF-9\npad: {where: TP2, coupling: ac, point: after gain control, light raises voltage: no, source "
      "resistance: "
      "500 Ω to 700 Ω}\nground: TP1\nspeed: {audio: x1, data: x4, reading: in bursts}\naudio track: press play\n"
      "reference: {where: TP5, voltage: 0 V ± 30 mV}\n");
  REQUIRE(found.mistakes.list().empty());
  CHECK(found.sheet.pad.coupling == bench::PadCoupling::ac);
  CHECK(found.sheet.pad.point == bench::PadPoint::after_gain_control);
  CHECK_FALSE(found.sheet.pad.light_raises_voltage);
  CHECK(found.sheet.pad.source_resistance_ohm.value == Approx(600));
  CHECK(found.sheet.speed.in_bursts);
  CHECK(found.sheet.reference->voltage_v->value == 0);
}

TEST_CASE("model sheet: turning live needs service data", "[bench]") {
  const std::string trimmer = "trimmer: {where: x, clockwise: raises, player off while turning: no";
  CHECK(said(pad + rest + trimmer + "}\n") ==
        "m.yaml:6:66: turning the trimmer with the player on is allowed only where the maker's service data say so; "
        "write player "
        "off while turning: yes, or name the place under service data");
  CHECK(said(pad + rest + trimmer + ", service data: section 5.2}\n").empty());
}

TEST_CASE("model sheet: mistakes", "[bench]") {
  CHECK(said(rest) ==
        "m.yaml:1:1: 'model' is missing in a model sheet; write model: LF-2\n"
        "m.yaml:1:1: 'pad' is missing in a model sheet; write pad: {where: TP2, ...}");
  CHECK(said(pad + rest + "trimer: {}\n") == "m.yaml:6:1: unknown key 'trimer' in a model sheet; write 'trimmer'");
  CHECK(said(pad + rest + "service value: {level: at least 1 V, read as: settled levels}\n") ==
        "m.yaml:6:24: 'level': expected a value with its tolerance, found 'at least 1 V'; write level: 1.20 V ± 10 %");
  CHECK(said(pad + rest + "service value: {level: 0 V ± 1 V, read as: settled levels}\n") ==
        "m.yaml:6:24: 'level': expected more than zero, found '0 V ± 1 V'; write level: 1.20 V ± 10 %");
  CHECK(
      said(pad + "ground: TP1\nspeed: {audio: x0, data: x2, reading: continuous}\naudio track: p\n") ==
      "m.yaml:4:16: 'audio': expected a speed from x0.5 to x100, found 'x0'; write the speed as a factor, such as x1");
  CHECK(said(pad + rest + "service value: {level: 1.20 V ± 10 %, read as: peak}\n") ==
        "m.yaml:6:48: 'read as': unknown word 'peak', expected 'settled levels' or 'outer edges'; write read as: "
        "settled levels");
}

TEST_CASE("model sheet: it is told by its first key", "[bench]") {
  CHECK(bench::is_model_sheet(yaml::load_text("m.yaml", "model: b\n").root));
  CHECK_FALSE(bench::is_model_sheet(yaml::load_text("m.yaml", "bench: b\n").root));
}
