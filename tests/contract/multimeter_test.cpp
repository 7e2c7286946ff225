// SPDX-License-Identifier: Apache-2.0
// One suite over every built-in phrasebook for multimeters: what core/bench/kind/multimeter.hpp promises, against the
// simulated one on known direct voltages and on one with a ripple that a long enough aperture averages away.
#include "core/bench/kind/multimeter.hpp"

#include <cmath>

#include "instruments/phrasebook/multimeter.hpp"
#include "sim/instrument/multimeter.hpp"
#include "tests/contract/kind_bench.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

std::shared_ptr<sim::SimulatedMultimeter> make(base::Timeline& timeline) {
  const sim::MeterClass exact{.of_reading = 0, .of_range = 0, .noise_of_range = 0};
  return std::make_shared<sim::SimulatedMultimeter>(timeline, exact, base::Random(1));
}

struct Bench : test::DeviceBench<bench::Multimeter, sim::SimulatedMultimeter> {
  explicit Bench(const phrasebook::Phrasebook& book)
      : DeviceBench(make, [&](base::Timeline& timeline, std::unique_ptr<transport::Session> session) {
          return phrasebook::open_multimeter(timeline, book, std::move(session));
        }) {
    device->connect(test::constant_source(1.25));
  }

  auto set_up(const bench::DcSetting& setting) { return take(kind.instrument->set_up_dc(setting, 2s)); }
  auto read() { return take(kind.instrument->read_dc(2s)); }
  // Past the driver, as somebody at its keys would.
  void tell(const std::string& message) {
    transport::Reply reply;
    REQUIRE_FALSE(kind.run(device->execute(message, reply)));
  }
};

}  // namespace

TEST_CASE("multimeter contract: a set-up is stated as it was read back, and a reading is in volts of either sign",
          "[contract]") {
  for (const auto& book : test::phrasebooks_of("multimeter")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.set_up({10, 0.02}));
    REQUIRE(b.taken.size() == 4);
    CHECK(b.taken[1].setting == "range");
    CHECK(b.taken[1].read_back == "10 V");
    CHECK(b.taken[2].read_back == "20 ms");
    REQUIRE_FALSE(b.read());
    CHECK(b.value == Approx(1.25).epsilon(1e-6));
    b.device->connect(test::constant_source(-0.5));
    REQUIRE_FALSE(b.read());
    CHECK(b.value == Approx(-0.5).epsilon(1e-6));
  }
}

TEST_CASE("multimeter contract: a reading integrates over the aperture, and takes that long", "[contract]") {
  for (const auto& book : test::phrasebooks_of("multimeter")) {
    INFO(book.name);
    Bench b(book);
    b.device->connect(test::sine_source(2, 0.5, 50));
    REQUIRE_FALSE(b.set_up({10, 0.1}));  // five whole periods: the ripple's mean is nothing
    const auto before = b.kind.sim.timeline->now();
    REQUIRE_FALSE(b.read());
    CHECK(b.value == Approx(2).margin(1e-4));
    CHECK(b.kind.sim.timeline->now() - before >= 100ms);
  }
}

TEST_CASE("multimeter contract: an aperture of 0 leaves the choice to the instrument", "[contract]") {
  for (const auto& book : test::phrasebooks_of("multimeter")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.set_up({10, 0}));
    CHECK(b.taken[2].asked == "any");
    REQUIRE_FALSE(b.read());
    CHECK(b.value == Approx(1.25).epsilon(1e-6));
  }
}

TEST_CASE("multimeter contract: an overload is told, and a larger range reads it", "[contract]") {
  for (const auto& book : test::phrasebooks_of("multimeter")) {
    INFO(book.name);
    Bench b(book);
    b.device->connect(test::constant_source(40));
    REQUIRE_FALSE(b.set_up({10, 0.02}));
    CHECK(b.read() == base::ErrorCode::bad_answer);
    CHECK_THAT(b.kind.last, Catch::Contains("overload: more than the range of 10 V"));
    REQUIRE_FALSE(b.set_up({50, 0.02}));
    REQUIRE_FALSE(b.read());
    CHECK(b.value == Approx(40).epsilon(1e-6));
  }
}

TEST_CASE("multimeter contract: a reading without a set-up is refused before anything is sent", "[contract]") {
  for (const auto& book : test::phrasebooks_of("multimeter")) {
    INFO(book.name);
    Bench b(book);
    b.kind.spoil(sim::Misbehaviour::silent);  // would be seen if anything were asked
    CHECK(b.read() == base::ErrorCode::bad_input);
  }
}

TEST_CASE("multimeter contract: a range that it does not have is its own error, and nothing is read with it",
          "[contract]") {
  for (const auto& book : test::phrasebooks_of("multimeter")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.set_up({10, 0.02}));
    CHECK(b.set_up({5000, 0.02}) == base::ErrorCode::instrument_error);
    CHECK(b.read() == base::ErrorCode::bad_input);
  }
}

TEST_CASE("multimeter contract: a setting that is not taken is told, and nothing is read with it", "[contract]") {
  for (const auto& book : test::phrasebooks_of("multimeter")) {
    INFO(book.name);
    const auto& phrases = std::get<phrasebook::MultimeterPhrases>(book.phrases);
    for (const auto* phrase : {&phrases.range, &phrases.aperture, &phrases.trigger_source}) {
      INFO(*phrase);
      Bench b(book);
      b.tell("TRIG:SOUR BUS");
      b.kind.ignore(phrasebook::spoken(*phrase));
      CHECK(b.set_up({100, 0.02}) == base::ErrorCode::setting_not_taken);
      CHECK(b.read() == base::ErrorCode::bad_input);
    }
  }
}

TEST_CASE("multimeter contract: each trouble ends in its error, and making safe makes it usable again", "[contract]") {
  for (const auto& book : test::phrasebooks_of("multimeter")) {
    for (const test::Trouble& trouble : test::troubles_of_a_query()) {
      INFO(book.name << ", " << sim::name_of(trouble.kind));
      Bench b(book);
      REQUIRE_FALSE(b.set_up({10, 0.02}));
      b.kind.spoil(trouble.kind);
      if (trouble.seen_by_the_next) CHECK_FALSE(b.read());
      CHECK(b.read() == trouble.code);
      b.kind.spoilt->behave();
      if (trouble.code == base::ErrorCode::connection_lost) continue;  // nobody is there any more
      CHECK_FALSE(b.kind.make_safe());
      CHECK_FALSE(b.read());
      CHECK(b.value == Approx(1.25).epsilon(1e-6));
    }
  }
}
