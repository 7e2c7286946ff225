// SPDX-License-Identifier: Apache-2.0
// The example reads as it is written; each mistake has its message, compared in full.
#include "core/bench/bench_file.hpp"
#include "tests/support/mistakes.hpp"

#include <catch2/catch.hpp>

#include <string>

using namespace eyelevel;

namespace {

const std::string meter =
    "  meter:\n    kind: multimeter\n    resource: TCPIP0::h::5026::SOCKET\n    phrasebook: standard-multimeter\n"
    "    accuracy: {reading: ± 0.05 %, range: ± 0.01 %}\n    input resistance: 10 MΩ\n";

std::string scope_with(const std::string& accuracy, const std::string& channels) {
  return "bench: b\ninstruments:\n  scope:\n    kind: oscilloscope\n    resource: TCPIP0::h::5025::SOCKET\n"
         "    phrasebook: standard-digitiser\n    accuracy: " +
         accuracy + "\n    channels: " + channels + "\n";
}

const std::string good_accuracy = "{gain: ± 1.5 %, offset: ± 10 mV}";
const std::string good_channels =
    "{1: {probe: x10, probe accuracy: ± 1 %, probe compensation: ± 0.5 %, probe resistance: 10 MΩ, probe capacitance: "
    "12 pF}}";

bench::BenchFileRead read(const std::string& text) { return bench::read_bench_file(yaml::load_text("b.yaml", text)); }

std::string said(const std::string& text) { return test::printed(read(text).mistakes); }

}  // namespace

TEST_CASE("bench file: the example says what it says", "[bench]") {
  const auto read = bench::read_bench_file(std::filesystem::path("examples/bench.yaml"));
  for (const auto& m : read.mistakes.list()) FAIL_CHECK(yaml::print(m));
  CHECK(read.bench.name == "lanternfield-1");
  const auto* scope = read.bench.find("scope");
  REQUIRE(scope != nullptr);
  CHECK(scope->kind == "oscilloscope");
  CHECK(scope->resource == "TCPIP0::127.0.0.1::5025::SOCKET");
  CHECK(scope->phrasebook == "standard-digitiser");
  CHECK(scope->calibration_due == "2030-06-30");
  CHECK(scope->gain_accuracy == Approx(0.015));
  CHECK(scope->offset_accuracy_v == Approx(0.010));
  REQUIRE(scope->channel(1) != nullptr);
  CHECK(scope->channel(1)->probe_factor == 10);
  CHECK(scope->channel(1)->probe_accuracy == Approx(0.01));
  CHECK(scope->channel(1)->probe_compensation == Approx(0.005));
  CHECK(scope->channel(1)->probe_resistance_ohm == Approx(10e6));
  CHECK(scope->channel(1)->probe_capacitance_f == Approx(12e-12));
  CHECK(scope->channel(2) == nullptr);
  const auto* dmm = read.bench.find("meter");
  REQUIRE(dmm != nullptr);
  CHECK(dmm->resource == "TCPIP0::127.0.0.1::5026::SOCKET");
  CHECK(dmm->reading_accuracy == Approx(0.0005));
  CHECK(dmm->range_accuracy == Approx(0.0001));
  CHECK(dmm->input_resistance_ohm == Approx(10e6));
  CHECK(read.bench.find("supply") == nullptr);
}

TEST_CASE("bench file: what a proof of the bench holds against: identity, calibrator, clock, how long it lasts",
          "[bench]") {
  const auto example = bench::read_bench_file(std::filesystem::path("examples/bench.yaml"));
  const auto* scope = example.bench.find("scope");
  REQUIRE(scope != nullptr);
  CHECK(scope->identity == "Eyelevel,Simulated oscilloscope");
  CHECK(scope->clock_accuracy == Approx(25e-6));
  REQUIRE(scope->calibrator);
  CHECK(scope->calibrator->height_v == Approx(1));
  CHECK(scope->calibrator->height_accuracy == Approx(0.01));
  CHECK(scope->noise_v == Approx(6e-3));
  CHECK(read(scope_with(good_accuracy, good_channels)).bench.find("scope")->noise_v == 0);
  CHECK_THAT(said(scope_with(good_accuracy, good_channels) + "    noise: 0 V\n"), Catch::Contains("'noise'"));
  CHECK(example.bench.proof_lasts_s == 30 * 86400.0);
  const auto weekly = read("bench: b\nproof lasts days: 7\ninstruments:\n" + meter);
  CHECK(weekly.mistakes.fine());
  CHECK(weekly.bench.proof_lasts_s == 7 * 86400.0);
}

TEST_CASE("bench file: it is told by its first key", "[bench]") {
  CHECK(bench::is_bench_file(yaml::load_text("b.yaml", "bench: b\n").root));
  CHECK_FALSE(bench::is_bench_file(yaml::load_text("b.yaml", "model: b\n").root));
  CHECK_FALSE(bench::is_bench_file(yaml::load_text("b.yaml", "").root));
}

TEST_CASE("bench file: a good one has no mistakes", "[bench]") {
  CHECK(said(scope_with(good_accuracy, good_channels) + meter).empty());
}

TEST_CASE("bench file: what is missing or unknown is told, all of it", "[bench]") {
  CHECK(said("bench: b\ninstrument: {}\n") ==
        "b.yaml:2:1: unknown key 'instrument' in a bench file; write 'instruments'\n"
        "b.yaml:1:1: 'instruments' is missing in a bench file; write instruments: {scope: {kind: oscilloscope, ...}}");
  CHECK(said("bench: b\ninstruments:\n") ==
        "b.yaml:2:1: 'instruments' has no value, expected a value; write instruments: {scope: {kind: oscilloscope, "
        "...}}");
  CHECK(said("bench: b\ninstruments: []\n") ==
        "b.yaml:2:14: 'instruments': expected a group of roles, each with its instrument; write scope: {kind: "
        "oscilloscope, "
        "...} below it");
  CHECK(said("bench: b\ninstruments:\n  scope: {kind: osciloscope, resource: x}\n") ==
        "b.yaml:3:17: 'kind': unknown word 'osciloscope', expected 'oscilloscope', 'multimeter', 'power supply', "
        "'function generator', "
        "'counter' or 'relay box'; write kind: oscilloscope");
  CHECK(said("bench: b\ninstruments:\n  scope: {resource: x}\n") ==
        "b.yaml:3:10: 'kind' is missing in an instrument; write kind: oscilloscope");
  CHECK(said("bench: b\ninstruments:\n  scope: x\n") ==
        "b.yaml:3:10: expected an instrument as a group of keys, found 'x'; write kind: oscilloscope");
  CHECK(said("bench: b\ninstruments:\n  m: {kind: multimeter, phrasebook: standard-multimeter, gain: ± 1 %}\n") ==
        "b.yaml:3:58: unknown key 'gain' in a multimeter; known here: 'kind', 'resource', 'phrasebook', 'calibration "
        "due', 'identity', 'line', 'certificate', 'login', 'encryption', "
        "'accuracy' or 'input resistance'\n"
        "b.yaml:3:6: 'resource' is missing in a multimeter; write resource: TCPIP0::192.0.2.10::5025::SOCKET\n"
        "b.yaml:3:6: 'accuracy' is missing in a multimeter; write accuracy: {reading: ± 0.05 %, range: ± 0.01 %}\n"
        "b.yaml:3:6: 'input resistance' is missing in a multimeter; write input resistance: 10 MΩ");
}

TEST_CASE("bench file: values that cannot be", "[bench]") {
  CHECK(said(scope_with("{gain: ± 1.5 %, offset: ± 1 %}", good_channels)) ==
        "b.yaml:7:39: 'offset': expected a tolerance in volts, found ± 1 %; write offset: ± 10 mV");
  CHECK(said(scope_with(good_accuracy, good_channels) + "    calibrator: {height: at most 1 V}\n") ==
        "b.yaml:9:26: 'height': expected a voltage above zero with what it may be off, found 'at most 1 V'; write "
        "height: 1 V ± 1 %");
  CHECK(said(scope_with("{gain: ± 15 mV, offset: ± 10 mV}", good_channels)) ==
        "b.yaml:7:24: 'gain': expected a ratio, found a voltage (15 mV); write a ratio such as 10 %");
  CHECK(said(scope_with(good_accuracy,
                        "{one: {probe: x10, probe accuracy: ± 1 %, probe compensation: ± 0.5 %, probe "
                        "resistance: 10 MΩ, probe capacitance: 12 pF}}")) ==
        "b.yaml:8:16: 'one' is no channel number; write the number at the instrument's socket, such as 1");
  CHECK(said(scope_with(good_accuracy,
                        "{1: {probe: x0, probe accuracy: ± 1 %, probe compensation: ± 0.5 %, probe "
                        "resistance: 0 Ω, probe capacitance: 12 pF}}")) ==
        "b.yaml:8:27: 'probe': expected more than zero, found 'x0'; write a ratio such as x10\n"
        "b.yaml:8:101: 'probe resistance': expected more than zero, found '0 Ω'; write a resistance such as 1 kΩ");
  CHECK(
      said(scope_with(good_accuracy, good_channels) + "  second:\n" +
           meter.substr(meter.find('\n') + 1, std::string::npos)
               .replace(meter.substr(meter.find('\n') + 1).find("5026"), 4, "5025")) ==
      "b.yaml:11:15: 'TCPIP0::h::5025::SOCKET' is also the resource of 'scope'; give each instrument its own resource");
}

TEST_CASE("bench file: a phrasebook of one's own is found from where the bench file lies", "[bench]") {
  std::string text = "bench: b\ninstruments:\n" + meter;
  const std::string name = "standard-multimeter";
  text.replace(text.find(name), name.size(), "books/mine.yaml");
  const auto found = bench::read_bench_file(yaml::load_text("workshop/b.yaml", text));
  REQUIRE(found.mistakes.list().empty());
  CHECK(found.bench.find("meter")->phrasebook == "workshop/books/mine.yaml");
  text.replace(text.find("books/mine.yaml"), 15, "books/mine.txt");
  CHECK(said(text) ==
        "b.yaml:6:17: 'phrasebook': 'books/mine.txt' is neither a name nor a .yaml file; write phrasebook: "
        "standard-digitiser, or the name of a file that ends in .yaml");
}

TEST_CASE("bench file: an absent file is a mistake with its name", "[bench]") {
  const auto read = bench::read_bench_file(std::filesystem::path("no-such-bench.yaml"));
  REQUIRE(read.mistakes.size() == 1);
  CHECK(yaml::print(read.mistakes.list()[0]) ==
        "no-such-bench.yaml:1:1: there is no such file; look at the spelling of its path");
}

TEST_CASE("bench file: the table for the schema knows the keys of every kind", "[bench]") {
  const auto table = bench::bench_file_table();
  const auto* instruments = table.find("instruments");
  REQUIRE(instruments != nullptr);
  CHECK(instruments->inside->find("channels") != nullptr);
  CHECK(instruments->inside->find("input resistance") != nullptr);
  CHECK(instruments->inside->find("accuracy")->inside->find("range") != nullptr);
  CHECK(instruments->inside->find("accuracy")->inside->find("gain") != nullptr);
}

TEST_CASE("bench file: a serial port's line is kept as written, with its place", "[bench]") {
  const auto with_line = read(
      "bench: b\ninstruments:\n  m:\n    kind: multimeter\n    resource: ASRL1::INSTR\n    line: 115200 8N1\n"
      "    phrasebook: standard-multimeter\n    accuracy: {reading: ± 0.05 %, range: ± 0.01 %}\n"
      "    input resistance: 10 MΩ\n");
  REQUIRE(with_line.mistakes.fine());
  CHECK(with_line.bench.instruments.front().line == "115200 8N1");
  CHECK(with_line.bench.instruments.front().line_mark.line == 6);
}

TEST_CASE("bench file: a certificate is a fingerprint as written or a file beside the bench file, a login a file",
          "[bench]") {
  const auto with = [](const std::string& keys) {
    return "bench: b\ninstruments:\n  m:\n    kind: multimeter\n    resource: TCPIP0::h::hislip0::INSTR\n" + keys +
           "    phrasebook: standard-multimeter\n    accuracy: {reading: ± 0.05 %, range: ± 0.01 %}\n"
           "    input resistance: 10 MΩ\n";
  };
  const auto by_file = read(with("    certificate: m.pem\n    login: secret/m.login\n"));
  REQUIRE(by_file.mistakes.fine());
  const auto& entry = by_file.bench.instruments.front();
  CHECK(entry.certificate == "m.pem");  // b.yaml lies here
  CHECK(entry.login == "secret/m.login");
  CHECK(entry.certificate_mark.line == 6);
  CHECK(read(with("    certificate: 4F:0A\n")).bench.instruments.front().certificate == "4F:0A");
  CHECK(
      said(with("    login: m.login\n")) ==
      "b.yaml:6:12: 'login': a password is said on encrypted connections only; write certificate: scope.pem, with the "
      "instrument's certificate in that file");
  CHECK_FALSE(entry.encrypts_login_only);
  const auto in_part = read(with("    certificate: 4F:0A\n    encryption: login only\n"));
  CHECK(in_part.bench.instruments.front().encrypts_login_only);
  CHECK_FALSE(
      read(with("    certificate: 4F:0A\n    encryption: always\n")).bench.instruments.front().encrypts_login_only);
  CHECK_THAT(
      said(with("    encryption: login only\n")),
      Catch::StartsWith("b.yaml:6:17: 'encryption': only an instrument with a certificate is spoken to encrypted"));
}

TEST_CASE("bench file: a power supply says what may never be asked of its outputs", "[bench]") {
  const std::string supply =
      "bench: b\ninstruments:\n  supply:\n    kind: power supply\n    resource: TCPIP0::h::5027::SOCKET\n"
      "    phrasebook: standard-power-supply\n    accuracy: {voltage: ± 0.1 %, current: ± 0.5 %}\n    outputs: ";
  const auto found = read(supply + "{1: {voltage at most: 5.5 V, current at most: 500 mA}}\n");
  REQUIRE(found.mistakes.list().empty());
  const auto* entry = found.bench.find("supply");
  REQUIRE(entry != nullptr);
  CHECK(entry->kind == "power supply");
  CHECK(entry->voltage_accuracy == Approx(0.001));
  CHECK(entry->current_accuracy == Approx(0.005));
  REQUIRE(entry->output(1) != nullptr);
  CHECK(entry->output(1)->most_v == Approx(5.5));
  CHECK(entry->output(1)->most_a == Approx(0.5));
  CHECK(entry->output(2) == nullptr);
  CHECK(said(supply + "{0: {voltage at most: 5.5 V, current at most: 500 mA}}\n") ==
        "b.yaml:8:15: '0' is no output number; write the number at the instrument's socket, such as 1");
  CHECK(said(supply + "{1: {voltage at most: 0 V}}\n") ==
        "b.yaml:8:18: 'current at most' is missing in an output; write current at most: 500 mA");
  CHECK(said(supply + "{1: {voltage at most: 0 V, current at most: 1 A}}\n") ==
        "b.yaml:8:36: 'voltage at most': expected more than zero, found '0 V'; write a voltage such as 1.20 V");
}

TEST_CASE("bench file: a power supply may say what a reading of nothing is off", "[bench]") {
  const auto supply = [](const std::string& offsets) {
    return "bench: b\ninstruments:\n  supply:\n    kind: power supply\n    resource: a\n    phrasebook: b\n"
           "    accuracy: {voltage: ± 0.1 %, current: ± 0.5 %" +
           offsets + "}\n    outputs: {1: {voltage at most: 5.5 V, current at most: 500 mA}}\n";
  };
  const auto stated = read(supply(", voltage offset: ± 5 mV, current offset: ± 2 mA"));
  REQUIRE(stated.mistakes.list().empty());
  CHECK(*stated.bench.find("supply")->voltage_offset_v == Approx(5e-3));
  CHECK(*stated.bench.find("supply")->current_offset_a == Approx(2e-3));
  CHECK_FALSE(read(supply("")).bench.find("supply")->current_offset_a);
  CHECK(said(supply(", current offset: ± 1 %")) ==
        "b.yaml:7:68: 'current offset': expected a tolerance in amperes, found ± 1 %; write current offset: ± 2 mA");
}

TEST_CASE("bench file: function generator, counter and relay box", "[bench]") {
  const std::string begin = "bench: b\ninstruments:\n";
  const std::string generator =
      "  generator:\n    kind: function generator\n    resource: a\n    phrasebook: standard-function-generator\n"
      "    accuracy: {frequency: ± 0.002 %, amplitude: ± 1 %}\n    outputs: {1: {voltage at most: 5 V}}\n";
  const std::string counter =
      "  counter:\n    kind: counter\n    resource: b\n    phrasebook: standard-counter\n"
      "    accuracy: {frequency: ± 0.0001 %}\n    input resistance: 1 MΩ\n";
  const std::string box =
      "  box:\n    kind: relay box\n    resource: c\n    phrasebook: standard-relay-box\n"
      "    ways: {pad: {relay: 101}, calibrator: {relay: 102}}\n";
  const auto found = read(begin + generator + counter + box);
  REQUIRE(found.mistakes.list().empty());
  CHECK(found.bench.find("generator")->frequency_accuracy == Approx(20e-6));
  CHECK(found.bench.find("generator")->amplitude_accuracy == Approx(0.01));
  CHECK(found.bench.find("generator")->output(1)->most_v == Approx(5));
  CHECK(found.bench.find("counter")->frequency_accuracy == Approx(1e-6));
  CHECK(found.bench.find("counter")->input_resistance_ohm == Approx(1e6));
  REQUIRE(found.bench.find("box")->ways.size() == 2);
  CHECK(found.bench.find("box")->ways[1].name == "calibrator");
  CHECK(found.bench.find("box")->ways[1].channel == 102);
  const auto with_ways = [&](const std::string& ways) {
    return begin + box.substr(0, box.find("    ways")) + "    ways: " + ways + "\n";
  };
  CHECK(said(with_ways("{pad: {relay: 0}}")) ==
        "b.yaml:7:25: 'relay': 0 is no number of a relay; write the number as the instrument's handbook has it, such "
        "as 101");
  CHECK(said(with_ways("{pad: {relay: 7}, far: {relay: 7}}")) ==
        "b.yaml:7:42: 'relay': 7 is already the way 'pad'; give each way its own relay");
}
