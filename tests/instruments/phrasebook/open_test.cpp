// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/open.hpp"

#include <catch2/catch.hpp>

#include <string>

#include "core/base/error.hpp"
#include "core/bench/kind/multimeter.hpp"
#include "core/bench/kind/oscilloscope.hpp"
#include "sim/instrument/multimeter.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "tests/support/run_task.hpp"

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
