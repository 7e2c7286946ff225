// SPDX-License-Identifier: Apache-2.0
// One suite over every built-in phrasebook for counters: what core/bench/kind/counter.hpp promises, against the
// simulated one on signals of known frequency. A rising edge is placed to far better than a sample of 50 ns, so that a
// gate of 10 ms gives a frequency to better than 1e-5.
#include "core/bench/kind/counter.hpp"

#include "instruments/phrasebook/counter.hpp"
#include "sim/instrument/counter.hpp"
#include "tests/contract/kind_bench.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

std::shared_ptr<sim::SimulatedCounter> make(base::Timeline& timeline) {
  return std::make_shared<sim::SimulatedCounter>(timeline, sim::CounterClass{.inputs = 2, .of_frequency = 0},
                                                 base::Random(1));
}

struct Bench : test::DeviceBench<bench::Counter, sim::SimulatedCounter> {
  explicit Bench(const phrasebook::Phrasebook& book)
      : DeviceBench(make, [&](base::Timeline& timeline, std::unique_ptr<transport::Session> session) {
          return phrasebook::open_counter(timeline, book, std::move(session));
        }) {
    device->connect(1, test::sine_source(1.5, 0.5, 12345));
    device->connect(2, test::sine_source(0, 0.5, 700e3));
  }

  auto set_up(const bench::FrequencySetting& setting) { return take(kind.instrument->set_up_frequency(setting, 2s)); }
  auto read() { return take(kind.instrument->read_frequency(2s)); }
};

}  // namespace

TEST_CASE("counter contract: each input reads its own frequency, over its gate", "[contract]") {
  for (const auto& book : test::phrasebooks_of("counter")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.set_up({1, bench::Coupling::ac, 0, 0.01}));
    REQUIRE(b.taken.size() == 5);
    CHECK(b.taken[1].read_back == "ac");
    CHECK(b.taken[3].read_back == "10 ms");
    const auto before = b.kind.sim.timeline->now();
    REQUIRE_FALSE(b.read());
    CHECK(b.value == Approx(12345).epsilon(1e-5));
    CHECK(b.kind.sim.timeline->now() - before >= 10ms);
    REQUIRE_FALSE(b.set_up({2, bench::Coupling::dc, 0.1, 0.01}));
    REQUIRE_FALSE(b.read());
    CHECK(b.value == Approx(700e3).epsilon(1e-5));
  }
}

TEST_CASE("counter contract: a signal that does not cross the level is told, and so is an open input", "[contract]") {
  for (const auto& book : test::phrasebooks_of("counter")) {
    INFO(book.name);
    Bench b(book);
    // 1 V to 2 V, coupled d.c., never crosses 0.5 V.
    REQUIRE_FALSE(b.set_up({1, bench::Coupling::dc, 0.5, 0.01}));
    CHECK(b.read() == base::ErrorCode::bad_answer);
    CHECK_THAT(b.kind.last, Catch::Contains("no signal crosses the level at input 1"));
    REQUIRE_FALSE(b.set_up({1, bench::Coupling::dc, 1.5, 0.01}));
    REQUIRE_FALSE(b.read());
    CHECK(b.value == Approx(12345).epsilon(1e-5));
    b.device->connect(1, nullptr);
    CHECK(b.read() == base::ErrorCode::bad_answer);
  }
}

TEST_CASE("counter contract: what cannot be asked is refused before anything is sent", "[contract]") {
  for (const auto& book : test::phrasebooks_of("counter")) {
    INFO(book.name);
    Bench b(book);
    b.kind.spoil(sim::Misbehaviour::silent);  // would be seen if anything were asked
    CHECK(b.read() == base::ErrorCode::bad_input);
    CHECK(b.set_up({0, bench::Coupling::ac, 0, 0.01}) == base::ErrorCode::bad_input);
    CHECK(b.set_up({1, bench::Coupling::ac, 0, 0}) == base::ErrorCode::bad_input);
  }
}

TEST_CASE("counter contract: a setting that is not taken is told, and nothing is read with it", "[contract]") {
  for (const auto& book : test::phrasebooks_of("counter")) {
    INFO(book.name);
    const auto& phrases = std::get<phrasebook::CounterPhrases>(book.phrases);
    for (const auto* phrase : {&phrases.coupling, &phrases.level, &phrases.gate}) {
      INFO(*phrase);
      Bench b(book);
      b.kind.ignore(phrasebook::spoken(*phrase, 1));
      CHECK(b.set_up({1, bench::Coupling::dc, 1.5, 0.01}) == base::ErrorCode::setting_not_taken);
      CHECK(b.read() == base::ErrorCode::bad_input);
    }
  }
}

TEST_CASE("counter contract: each trouble ends in its error, and making safe makes it usable again", "[contract]") {
  for (const auto& book : test::phrasebooks_of("counter")) {
    for (const test::Trouble& trouble : test::troubles_of_a_query()) {
      INFO(book.name << ", " << sim::name_of(trouble.kind));
      Bench b(book);
      REQUIRE_FALSE(b.set_up({1, bench::Coupling::ac, 0, 0.01}));
      b.kind.spoil(trouble.kind);
      if (trouble.seen_by_the_next) CHECK_FALSE(b.read());
      CHECK(b.read() == trouble.code);
      b.kind.spoilt->behave();
      if (trouble.code == base::ErrorCode::connection_lost) continue;  // nobody is there any more
      CHECK_FALSE(b.kind.make_safe());
      CHECK_FALSE(b.read());
      CHECK(b.value == Approx(12345).epsilon(1e-5));
    }
  }
}
