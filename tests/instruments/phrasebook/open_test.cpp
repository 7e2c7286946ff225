// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/open.hpp"

#include <catch2/catch.hpp>

#include <fstream>
#include <string>

#include "core/base/error.hpp"
#include "core/bench/kind/multimeter.hpp"
#include "core/bench/kind/oscilloscope.hpp"
#include "sim/instrument/multimeter.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;

namespace {

struct Bench {
  test::Simulated sim;
  std::shared_ptr<transport::memory::MemoryServer> server = std::make_shared<transport::memory::MemoryServer>();
  transport::Transports transports;
  phrasebook::Phrasebooks books = phrasebook::standard_phrasebooks();
  std::unique_ptr<bench::Instrument> instrument;
  std::string identity;

  Bench() {
    server->add("scope", std::make_shared<sim::SimulatedOscilloscope>(*sim.timeline, sim::ScopeClass{}, base::Random(1),
                                                                      "Lanternfield,Scope,1,1"));
    server->add("meter", std::make_shared<sim::SimulatedMultimeter>(*sim.timeline, sim::MeterClass{}, base::Random(2),
                                                                    "Lanternfield,Meter,2,1"));
    transport::add_memory(transports, server);
  }
  ~Bench() { instrument.reset(); }

  static task<> work(Bench& b, bench::InstrumentEntry entry) {
    const auto open = phrasebook::opener(b.books, b.transports, *b.sim.timeline);
    b.instrument = co_await open(entry);
    b.identity = co_await b.instrument->greet(std::chrono::seconds(1));
  }
  // The whole text of the error, or nothing.
  std::string open(const std::string& kind, const std::string& resource, const std::string& book) {
    bench::InstrumentEntry entry;
    entry.role = "it";
    entry.kind = kind;
    entry.resource = resource;
    entry.phrasebook = book;
    try {
      sim.run(work(*this, entry));
    } catch (const base::Error& error) {
      return error.what();
    }
    return "";
  }
};

}  // namespace

TEST_CASE("open: an entry of the bench file becomes an instrument of its kind", "[phrasebook]") {
  Bench b;
  CHECK(b.open("oscilloscope", "MEMORY::scope", "standard-digitiser").empty());
  CHECK(b.identity == "Lanternfield,Scope,1,1");
  CHECK(dynamic_cast<bench::Oscilloscope*>(b.instrument.get()) != nullptr);
  CHECK(b.open("multimeter", "MEMORY::meter", "standard-multimeter").empty());
  CHECK(b.identity == "Lanternfield,Meter,2,1");
  CHECK(dynamic_cast<bench::Multimeter*>(b.instrument.get()) != nullptr);
}

TEST_CASE("open: a phrasebook that is unknown or for another kind is refused", "[phrasebook]") {
  Bench b;
  CHECK(b.open("oscilloscope", "MEMORY::scope", "standard-digitizer") ==
        "unknown phrasebook 'standard-digitizer'; did you mean 'standard-digitiser'?\n  try: look at the bench file");
  CHECK(b.open("oscilloscope", "MEMORY::scope", "standard-multimeter") ==
        "the phrasebook 'standard-multimeter' is for a multimeter, not for an oscilloscope\n"
        "  try: name another phrasebook in the bench file");
  CHECK(b.open("multimeter", "MEMORY::meter", "standard-digitiser") ==
        "the phrasebook 'standard-digitiser' is for an oscilloscope, not for a multimeter\n"
        "  try: name another phrasebook in the bench file");
}

TEST_CASE("open: a resource where nobody is, is told by its name", "[phrasebook]") {
  Bench b;
  CHECK_THAT(b.open("multimeter", "MEMORY::nobody", "standard-multimeter"),
             Catch::StartsWith("MEMORY0::nobody::INSTR: "));
}

TEST_CASE("open: a USB instrument is opened with what its phrasebook says it needs, any other by the standard",
          "[phrasebook]") {
  test::TemporaryFolder folder;
  const auto book = folder.path() / "mine.yaml";
  std::string text;
  for (const auto& standard : phrasebook::detail::standard_texts())
    if (standard.file == "standard/standard-multimeter.yaml") text = standard.text;
  std::ofstream(book) << text << "\nusb: { clear on open: yes, bytes per request: 4096 }\n";
  bench::BenchFile bench;
  bench.instruments.resize(2);
  bench.instruments[0].resource = "USB::0x1234::0x5678::EY-0001";
  bench.instruments[0].phrasebook = book.string();
  bench.instruments[1].resource = "USB0::0x1234::0x5678::EY-0002::0::INSTR";
  bench.instruments[1].phrasebook = "standard-multimeter";
  const auto quirks_of = phrasebook::quirks_of(phrasebook::standard_phrasebooks(), bench);
  const auto of = [&](const char* name) { return quirks_of(transport::parse_resource_name(name)); };
  CHECK(of("USB0::4660::22136::EY-0001::0::INSTR").clear_on_open);
  CHECK(of("USB0::4660::22136::EY-0001::0::INSTR").most_request_bytes == 4096);
  CHECK_FALSE(of("USB0::0x1234::0x5678::EY-0002::0::INSTR").clear_on_open);
  CHECK(of("USB0::0x1234::0x5678::EY-0003::0::INSTR").most_request_bytes ==
        transport::usbtmc::Quirks{}.most_request_bytes);
}
