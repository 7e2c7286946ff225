// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>

namespace eyelevel::test {

const sequence::Language& language() {
  static const sequence::Language ready = sequence::ready_language();
  return ready;
}

bench::BenchFile bench_file() {
  bench::BenchFile file;
  file.file = "bench.yaml";
  file.name = "test bench";
  bench::InstrumentEntry scope;
  scope.role = "scope";
  scope.kind = "oscilloscope";
  scope.resource = "TCPIP0::192.0.2.10::5025::SOCKET";
  scope.calibration_due = "2030-06-30";
  scope.gain_accuracy = 0.015;
  scope.offset_accuracy_v = 0.010;
  bench::ChannelEntry channel;
  channel.number = 1;
  channel.probe_factor = 10;
  channel.probe_accuracy = 0.010;
  channel.probe_compensation = 0.005;
  channel.probe_resistance_ohm = 10e6;
  channel.probe_capacitance_f = 12e-12;
  scope.channels = {channel};
  bench::InstrumentEntry meter;
  meter.role = "meter";
  meter.kind = "multimeter";
  meter.resource = "TCPIP0::192.0.2.11::5025::SOCKET";
  meter.reading_accuracy = 0.0005;
  meter.range_accuracy = 0.0001;
  meter.input_resistance_ohm = 10e6;
  file.instruments = {scope, meter};
  return file;
}

bench::BenchFile wide_bench_file() {
  bench::BenchFile file = bench_file();
  for (const auto& [role, kind] : {std::pair{"supply", "power supply"},
                                   {"generator", "function generator"},
                                   {"counter", "counter"},
                                   {"relays", "relay box"}}) {
    bench::InstrumentEntry entry;
    entry.role = role;
    entry.kind = kind;
    entry.frequency_accuracy = 1e-6;
    entry.voltage_accuracy = 0.001;
    entry.current_accuracy = 0.005;
    entry.voltage_offset_v = 4e-3;
    entry.current_offset_a = 2e-3;
    entry.outputs = {{1, 5.5, 0.5, {}}};
    entry.ways = {{"pad", 101, {}}};
    file.instruments.push_back(entry);
  }
  return file;
}

std::string around_outputs(const std::string& steps, const std::string& closing) {
  return "sequence: test\nabout: a test\nneeds:\n  supply: { kind: power supply }\n"
         "  generator: { kind: function generator }\n  counter: { kind: counter }\n  relays: { kind: relay box }\n"
         "signals:\n  rail: supply output 1\n  tone: generator output 1\n  edges: counter input 1\n"
         "opening:\n  - set up: rail\n    voltage: 5 V\n    current at most: 100 mA\n    off above: 5.5 V\n"
         "    within: 5 s\n  - set up: tone\n    shape: square\n    frequency: 1 kHz\n    peak to peak: 1 V\n"
         "    within: 5 s\n  - set up: edges\n    level: 0.5 V\n    gate: 100 ms\n    within: 5 s\nsteps:\n" +
         steps + "closing:\n" + closing;
}

bench::ModelSheet model_sheet() {
  bench::ModelSheet sheet;
  sheet.model = "LF-2";
  sheet.pad.source_resistance_ohm = {1000, 200};
  return sheet;
}

std::string around(const std::string& steps, const std::string& limits) {
  return "sequence: test\nabout: a test\nneeds:\n  scope: { kind: oscilloscope, sample rate: at least 20 MSa/s }\n"
         "  meter: { kind: multimeter }\nsignals:\n  rf: scope channel 1\n  dc: meter\nlimits:\n" +
         limits +
         "opening:\n  - set up: rf\n    probe: x10\n    coupling: dc\n    screen: 0.6 V to 2.6 V at the probe tip\n"
         "    within: 5 s\n  - set up: dc\n    range: 5 V\n    aperture: 20 ms\n    within: 5 s\nsteps:\n" +
         steps + "closing:\n  - make safe: every instrument\n    within: 10 s\n";
}

sequence::Sequence checked(const std::string& text) {
  yaml::Document document = yaml::load_text("test.yaml", text);
  auto sequence = sequence::check(document, language());
  for (const yaml::Mistake& m : document.mistakes.list()) UNSCOPED_INFO(yaml::print(m));
  REQUIRE(sequence.has_value());
  return *sequence;
}

std::string mistakes_of(const std::string& text, const sequence::CheckSetting& setting) {
  yaml::Document document = yaml::load_text("test.yaml", text);
  sequence::check(document, language(), setting);
  std::string all;
  for (const yaml::Mistake& m : document.mistakes.list())
    if (m.severity == yaml::Severity::error) all += yaml::print(m) + "\n";
  return all;
}

std::string mistakes_on(const bench::BenchFile& bench, const std::string& text) {
  yaml::Mistakes mistakes("test.yaml");
  sequence::check_on_bench(checked(text), bench, mistakes);
  std::string all;
  for (const yaml::Mistake& m : mistakes.list()) all += yaml::print(m) + "\n";
  return all;
}

FakeBench::FakeBench() = default;
FakeBench::~FakeBench() = default;

template <class Fake>
std::unique_ptr<bench::Instrument> FakeBench::other(const bench::InstrumentEntry& entry) {
  return std::make_unique<Fake>(entry.role, *sim.timeline, calls, outputs);
}

task<std::unique_ptr<bench::Instrument>> FakeBench::open(const bench::InstrumentEntry& entry) {
  co_await calls.call(*sim.timeline, "open " + entry.role);
  if (entry.kind == "multimeter") {
    if (!has_meter)
      throw base::Error(base::ErrorCode::no_connection, "nobody listens at " + entry.resource, "is it on?");
    auto meter = std::make_unique<FakeMeter>(*sim.timeline, calls, meter_v);
    meter->made_safe = &meter_is_safe;
    co_return meter;
  }
  if (entry.kind == "power supply") co_return other<FakeSupply>(entry);
  if (entry.kind == "function generator") co_return other<FakeGenerator>(entry);
  if (entry.kind == "counter") co_return other<FakeCounter>(entry);
  if (entry.kind == "relay box") co_return other<FakeRelays>(entry);
  auto scope = std::make_unique<FakeScope>(*sim.timeline, calls, unit);
  scope->made_safe = &scope_is_safe;
  scope->closed = &scope_is_closed;
  prepare_scope(*scope);
  co_return scope;
}

sequence::RunSetting FakeBench::setting() {
  return {*sim.timeline,
          file,
          model ? &*model : nullptr,
          [this](const bench::InstrumentEntry& e) { return open(e); },
          person,
          "run-1",
          "LF2-00001",
          seed,
          true,
          proof};
}

sequence::RunResult FakeBench::run(const sequence::Sequence& sequence) {
  sequence::RunResult result;
  sim.run([](FakeBench& self, const sequence::Sequence& s, sequence::RunResult& out) -> task<> {
    out = co_await sequence::run(s, self.setting(), self.journal, {&self.listener});
  }(*this, sequence, result));
  return result;
}

sequence::RunResult FakeBench::run(const std::string& text) {
  const sequence::Sequence sequence = checked(text);
  return run(sequence);
}

sequence::RunResult FakeBench::run_stopped_at(base::Duration when, const std::string& text) {
  const auto sequence = checked(text);
  boost::asio::cancellation_signal stop;
  std::optional<sequence::RunResult> result;
  boost::asio::co_spawn(
      sim.loop, sequence::run(sequence, setting(), journal, {&listener}),
      boost::asio::bind_cancellation_slot(stop.slot(), [&](const std::exception_ptr& e, sequence::RunResult r) {
        CHECK_FALSE(e);
        result = std::move(r);
      }));
  sim.run([](base::Timeline& t, base::Duration at, boost::asio::cancellation_signal& signal) -> task<> {
    co_await t.sleep_until(at);
    signal.emit(boost::asio::cancellation_type::terminal);
    co_await t.sleep(std::chrono::seconds(30));
  }(*sim.timeline, when, stop));
  REQUIRE(result);
  return *result;
}

}  // namespace eyelevel::test
