// SPDX-License-Identifier: Apache-2.0
// One suite over every built-in phrasebook for function generators: what core/bench/kind/function_generator.hpp
// promises, against the simulated one, whose outputs say what they really give.
#include "core/bench/kind/function_generator.hpp"

#include <algorithm>
#include <cmath>

#include "instruments/phrasebook/function_generator.hpp"
#include "sim/instrument/function_generator.hpp"
#include "tests/contract/kind_bench.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

std::shared_ptr<sim::SimulatedFunctionGenerator> make(base::Timeline& timeline) {
  const sim::GeneratorClass perfect{.outputs = 2, .of_frequency = 0, .of_amplitude = 0};
  return std::make_shared<sim::SimulatedFunctionGenerator>(timeline, perfect, base::Random(1));
}

struct Bench : test::DeviceBench<bench::FunctionGenerator, sim::SimulatedFunctionGenerator> {
  explicit Bench(const phrasebook::Phrasebook& book)
      : DeviceBench(make, [&](base::Timeline& timeline, std::unique_ptr<transport::Session> session) {
          return phrasebook::open_function_generator(timeline, book, std::move(session),
                                                     {{1, 2, 0, {}}, {2, 5, 0, {}}});
        }) {}

  auto set_up(int output, const bench::SignalSetting& setting) {
    return take(kind.instrument->set_up(output, setting, 2s));
  }
  auto switch_on(int output) { return kind.run(kind.instrument->switch_on(output, 2s)); }
  auto switch_off(int output) { return kind.run(kind.instrument->switch_off(output, 2s)); }

  // What is at the terminals in the next millisecond.
  std::vector<float> record(int output) {
    const double start_s = base::to_seconds(kind.sim.timeline->now());
    std::vector<float> volts(1000);
    device->place(output)->render(start_s, 1e6, volts, {});
    return volts;
  }
};

const bench::SignalSetting tone{bench::Shape::sine, 10e3, 2, 0.5};

}  // namespace

TEST_CASE("function generator contract: a set-up is proved and leaves the output off", "[contract]") {
  for (const auto& book : test::phrasebooks_of("function generator")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.set_up(1, tone));
    REQUIRE(b.taken.size() == 5);
    CHECK(b.taken[1].read_back == "10 kHz");
    CHECK(b.taken[2].read_back == "2 V");
    CHECK(b.taken[3].read_back == "500 mV");
    CHECK(b.taken[4].read_back == "off");
    CHECK_FALSE(b.device->is_on(1));
    REQUIRE_FALSE(b.switch_on(1));
    REQUIRE_FALSE(b.set_up(1, tone));
    CHECK_FALSE(b.device->is_on(1));
  }
}

TEST_CASE("function generator contract: what is switched on is what was asked, in every shape", "[contract]") {
  for (const auto& book : test::phrasebooks_of("function generator")) {
    for (const auto shape : {bench::Shape::sine, bench::Shape::square, bench::Shape::triangle}) {
      INFO(book.name << ", shape " << static_cast<int>(shape));
      Bench b(book);
      REQUIRE_FALSE(b.set_up(1, {shape, 10e3, 2, 0.5}));
      REQUIRE_FALSE(b.switch_on(1));
      const auto volts = b.record(1);  // ten periods of 100 samples
      const auto [low, high] = std::minmax_element(volts.begin(), volts.end());
      CHECK(*high == Approx(1.5).margin(0.001));
      CHECK(*low == Approx(-0.5).margin(0.001));
      double squares = 0;
      for (const float v : volts) squares += (static_cast<double>(v) - 0.5) * (static_cast<double>(v) - 0.5);
      // Mean square of an amplitude of 1 V: 1/2, 1, 1/3. A hundred samples a period leave 1 %.
      const double truth = shape == bench::Shape::sine ? 0.5 : shape == bench::Shape::square ? 1 : 1.0 / 3;
      CHECK(squares / 1000 == Approx(truth).epsilon(0.01));
      CHECK_FALSE(b.device->is_on(2));
      REQUIRE_FALSE(b.switch_off(1));
      CHECK_FALSE(b.device->is_on(1));
    }
  }
}

TEST_CASE("function generator contract: what the bench file does not allow is refused and nothing is sent",
          "[contract]") {
  for (const auto& book : test::phrasebooks_of("function generator")) {
    INFO(book.name);
    Bench b(book);
    b.kind.spoil(sim::Misbehaviour::silent);  // would be seen if anything were asked
    CHECK(b.set_up(1, {bench::Shape::sine, 1e3, 3, 0.6}) == base::ErrorCode::bad_input);
    CHECK_THAT(b.kind.last, Catch::Contains("output 1: 3 V peak to peak around 600 mV was asked, the bench file "
                                            "allows 2 V at most"));
    for (const auto& bad :
         {bench::SignalSetting{bench::Shape::sine, 1e3, 1, -1.6}, bench::SignalSetting{bench::Shape::sine, 1e3, -1, 0},
          bench::SignalSetting{bench::Shape::sine, 0, 1, 0},
          bench::SignalSetting{bench::Shape::sine, std::nan(""), 1, 0},
          bench::SignalSetting{bench::Shape::sine, 1e3, std::nan(""), 0}})
      CHECK(b.set_up(1, bad) == base::ErrorCode::bad_input);
    CHECK(b.set_up(3, tone) == base::ErrorCode::bad_input);
    CHECK(b.switch_on(1) == base::ErrorCode::bad_input);  // not set up
  }
}

TEST_CASE("function generator contract: a setting or a switch that is not taken is told", "[contract]") {
  for (const auto& book : test::phrasebooks_of("function generator")) {
    INFO(book.name);
    const auto& phrases = std::get<phrasebook::FunctionGeneratorPhrases>(book.phrases);
    for (const auto* phrase : {&phrases.shape, &phrases.frequency, &phrases.amplitude, &phrases.offset}) {
      INFO(*phrase);
      Bench b(book);
      b.kind.ignore(phrasebook::spoken(*phrase, 1));
      CHECK(b.set_up(1, {bench::Shape::square, 10e3, 2, 0.5}) == base::ErrorCode::setting_not_taken);
      CHECK(b.switch_on(1) == base::ErrorCode::bad_input);
    }
    Bench b(book);
    REQUIRE_FALSE(b.set_up(1, tone));
    REQUIRE_FALSE(b.switch_on(1));
    b.kind.ignore(phrasebook::spoken(phrases.output, 1));
    CHECK(b.switch_off(1) == base::ErrorCode::setting_not_taken);
    CHECK(b.kind.make_safe() == base::ErrorCode::setting_not_taken);
    CHECK_THAT(b.kind.last, Catch::Contains("switch the output off by hand"));
  }
}

TEST_CASE("function generator contract: making safe switches every output off, whatever happened before",
          "[contract]") {
  for (const auto& book : test::phrasebooks_of("function generator")) {
    for (const test::Trouble& trouble : test::troubles_of_a_query()) {
      INFO(book.name << ", " << sim::name_of(trouble.kind));
      Bench b(book);
      for (const int output : {1, 2}) {
        REQUIRE_FALSE(b.set_up(output, tone));
        REQUIRE_FALSE(b.switch_on(output));
      }
      b.kind.spoil(trouble.kind);
      if (trouble.seen_by_the_next) CHECK_FALSE(b.switch_on(1));
      CHECK(b.switch_on(1) == trouble.code);
      b.kind.spoilt->behave();
      if (trouble.code == base::ErrorCode::connection_lost) continue;  // nobody is there any more
      CHECK_FALSE(b.kind.make_safe());
      CHECK_FALSE(b.device->is_on(1));
      CHECK_FALSE(b.device->is_on(2));
    }
  }
}
