// SPDX-License-Identifier: Apache-2.0
// One suite over every built-in phrasebook for oscilloscopes, whatever the way in which they give their records out:
// what core/bench/kind/oscilloscope.hpp promises, against the simulated one that speaks so. The instrument is without
// errors of its own, so that half a step of its 8-bit conversion is left: 2 V / 255 / 2.
#include "core/bench/kind/oscilloscope.hpp"

#include <cmath>
#include <numbers>

#include "instruments/phrasebook/oscilloscope.hpp"
#include "sim/instrument/oscilloscope.hpp"
#include "tests/contract/kind_bench.hpp"
#include "tests/support/test_signal.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

constexpr double half_step_v = 0.5 * 2.0 / 255;

template <sim::Tongue tongue>
std::shared_ptr<sim::SimulatedOscilloscope> make(base::Timeline& timeline) {
  sim::ScopeClass perfect;
  perfect.gain_relative = perfect.offset_in_v = perfect.offset_of_range = 0;
  perfect.clock_relative = perfect.noise_in_v = perfect.noise_of_range = 0;
  return std::make_shared<sim::SimulatedOscilloscope>(timeline, perfect, base::Random(1), "Lanternfield,Scope,1,1",
                                                      tongue);
}

auto maker_for(const phrasebook::Phrasebook& book) {
  if (book.name == "block-with-numbered-header") return make<sim::Tongue::numbered_header>;
  if (book.name == "block-with-keyed-header") return make<sim::Tongue::keyed_header>;
  return make<sim::Tongue::standard>;
}

struct Bench {
  explicit Bench(const phrasebook::Phrasebook& book)
      : kind(maker_for(book), device, [&](base::Timeline& timeline, std::unique_ptr<transport::Session> session) {
          return phrasebook::open_oscilloscope(timeline, book, std::move(session));
        }) {
    // 0.9 V to 2.3 V, 10 kHz, with a slow part, so that every point of a record has a voltage of its own.
    device->connect(1, std::make_shared<test::FunctionSource>(truth_v), {});
    device->connect(2, test::constant_source(0.75), {});
  }

  static double truth_v(double t) {
    return 1.6 + 0.5 * std::sin(2 * std::numbers::pi * 10e3 * t) + 0.2 * std::sin(2 * std::numbers::pi * 123 * t);
  }
  static task<> do_set_up(Bench& b, int channel, bench::ChannelSetting setting) {
    b.taken = co_await b.kind.instrument->set_up(channel, setting, 2s);
  }
  static task<> do_capture(Bench& b, bench::Acquisition acquisition) {
    b.waveform = co_await b.kind.instrument->capture(acquisition, 5s);
  }
  static task<> do_ability(Bench& b) { b.ability = co_await b.kind.instrument->ability(2s); }
  auto set_up(int channel = 1) {
    const bench::ChannelSetting setting{10, bench::Coupling::dc, 0.6, 2.6, {}};
    return kind.run(do_set_up(*this, channel, setting));
  }
  auto capture(const bench::Acquisition& acquisition = {1, 500e-6, 20e6, {}}) {
    return kind.run(do_capture(*this, acquisition));
  }
  // The largest difference between the record and what was there.
  double largest_error_v() const {
    const auto view = waveform.view();
    double largest = 0;
    for (std::size_t i = 0; i < view.size(); ++i) {
      const double t = record_start_s() + static_cast<double>(i) / view.rate_hz;
      largest = std::max(largest, std::abs(view.volts(i) - truth_v(t)));
    }
    return largest;
  }
  double record_start_s() const { return waveform.start_s; }

  std::shared_ptr<sim::SimulatedOscilloscope> device;
  test::KindBench<bench::Oscilloscope> kind;
  std::vector<bench::SettingTaken> taken;
  signal::Waveform waveform;
  bench::OscilloscopeAbility ability;
};

// The pole of the input at 100 MHz delays the signal by 1.6 ns, which on 31 V/ms is far below a step.
constexpr double tolerance_v = half_step_v + 1e-3;

}  // namespace

TEST_CASE("oscilloscope contract: every point of a capture is the voltage that was there at its time", "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    INFO(book.name);
    Bench b(book);
    CHECK(b.kind.identity == "Lanternfield,Scope,1,1");
    REQUIRE_FALSE(b.set_up());
    CHECK(b.taken.size() == 4);
    REQUIRE_FALSE(b.capture());
    CHECK(b.waveform.size() == 10000);  // 500 us at 20 MSa/s
    CHECK(b.waveform.rate_hz == Approx(20e6).epsilon(1e-9));
    CHECK(b.largest_error_v() < tolerance_v);
  }
}

TEST_CASE("oscilloscope contract: a record that needs several reads has no gap and nothing twice", "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    phrasebook::Phrasebook small = book;
    auto& layout = std::get<phrasebook::OscilloscopePhrases>(small.phrases).layout;
    // 10 000 points: parts that fit, parts that leave one over, one at a time beyond the last.
    for (const std::int64_t part : {2500, 3333, 9999}) {
      INFO(book.name << ", " << part);
      if (layout.is_used()) layout.points_per_read = part;
      Bench b(small);
      REQUIRE_FALSE(b.set_up());
      REQUIRE_FALSE(b.capture());
      CHECK(b.waveform.size() == 10000);
      CHECK(b.largest_error_v() < tolerance_v);
    }
  }
}

TEST_CASE("oscilloscope contract: each channel gives its own signal", "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.set_up(1));
    REQUIRE_FALSE(b.set_up(2));
    REQUIRE_FALSE(b.capture({2, 10e-6, 20e6, {}}));
    for (std::size_t i = 0; i < b.waveform.size(); ++i)
      CHECK(b.waveform.view().volts(i) == Approx(0.75).margin(half_step_v));
    REQUIRE_FALSE(b.capture({1, 10e-6, 20e6, {}}));
    CHECK(b.largest_error_v() < tolerance_v);
    CHECK(b.capture({3, 10e-6, 20e6, {}}) == base::ErrorCode::bad_input);  // not set up
  }
}

TEST_CASE("oscilloscope contract: a triggered record begins where the signal crosses the level", "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.set_up());
    REQUIRE_FALSE(b.capture({1, 20e-6, 20e6, bench::Trigger{1.6, bench::Edge::falling}}));
    CHECK(b.waveform.view().volts(0) == Approx(1.6).margin(tolerance_v + 2e-3));  // and 50 ns of 31 V/ms
    CHECK(b.waveform.view().volts(300) < 1.5);
    CHECK(b.capture({1, 20e-6, 20e6, bench::Trigger{2.55, bench::Edge::rising}}) == base::ErrorCode::wait_ran_out);
    CHECK_FALSE(b.capture());
    CHECK(b.largest_error_v() < tolerance_v);
  }
}

TEST_CASE("oscilloscope contract: clipped samples lie at or beyond the screen that the waveform carries",
          "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    for (const double outside_v : {3.5, -1.0}) {
      INFO(book.name << ", " << outside_v << " V");
      Bench b(book);
      b.device->connect(1, test::constant_source(outside_v), {});
      REQUIRE_FALSE(b.set_up());
      REQUIRE_FALSE(b.capture({1, 10e-6, 20e6, {}}));
      REQUIRE(b.waveform.screen);
      for (std::size_t i = 0; i < b.waveform.size(); ++i) {
        const double v = b.waveform.view().volts(i);
        CHECK((outside_v > 0 ? v >= b.waveform.screen->high_v : v <= b.waveform.screen->low_v));
      }
    }
  }
}

TEST_CASE("oscilloscope contract: its ability is that of the instrument, or what the phrasebook says", "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.kind.run(Bench::do_ability(b)));
    CHECK(b.ability.rate_hz_max == Approx(1e9));
    CHECK(b.ability.points_max == 10'000'000);
    phrasebook::Phrasebook limited = book;
    auto& layout = std::get<phrasebook::OscilloscopePhrases>(limited.phrases).layout;
    layout.points_most = 120'000;
    Bench c(limited);
    REQUIRE_FALSE(c.kind.run(Bench::do_ability(c)));
    CHECK(c.ability.rate_hz_max == Approx(1e9));
    CHECK(c.ability.points_max == 120'000);
    layout.rate_hz_most = 250e6;
    Bench d(limited);
    d.kind.spoil(sim::Misbehaviour::silent);  // would be seen if anything were asked
    REQUIRE_FALSE(d.kind.run(Bench::do_ability(d)));
    CHECK(d.ability.rate_hz_max == 250e6);
    CHECK(d.ability.points_max == 120'000);
  }
}

TEST_CASE("oscilloscope contract: a pause after settings is kept", "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    INFO(book.name);
    phrasebook::Phrasebook slow = book;
    std::get<phrasebook::OscilloscopePhrases>(slow.phrases).layout.pause = 200ms;
    Bench b(slow);
    const auto before = b.kind.sim.timeline->now();
    REQUIRE_FALSE(b.set_up());
    CHECK(b.kind.sim.timeline->now() - before >= 200ms);
    REQUIRE_FALSE(b.capture());
    CHECK(b.largest_error_v() < tolerance_v);
  }
}

TEST_CASE("oscilloscope contract: each trouble in any query of a capture ends in its error, and the next one works",
          "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    const bool has_header = std::get<phrasebook::OscilloscopePhrases>(book.phrases).layout.is_used();
    // Completed, header where there is one, block.
    for (int query = 1; query <= (has_header ? 3 : 2); ++query) {
      for (const test::Trouble& trouble : test::troubles_of_a_query()) {
        INFO(book.name << ", query " << query << ", " << sim::name_of(trouble.kind));
        Bench b(book);
        REQUIRE_FALSE(b.set_up());
        REQUIRE_FALSE(b.capture());
        // An error behind the last answer is seen by nobody before the next capture.
        if (trouble.seen_by_the_next && query == (has_header ? 3 : 2)) continue;
        b.kind.spoil(trouble.kind, query);
        CHECK(b.capture() == trouble.code);
        CHECK_THAT(b.kind.last, Catch::StartsWith("MEMORY0::it::INSTR: "));
        b.kind.spoilt->behave();
        if (trouble.code == base::ErrorCode::connection_lost) continue;  // nobody is there any more
        CHECK_FALSE(b.kind.make_safe());
        CHECK_FALSE(b.capture());
        CHECK(b.largest_error_v() < tolerance_v);
      }
    }
  }
}

TEST_CASE("oscilloscope contract: blocks whose announced length is not what comes are refused", "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    const bool has_header = std::get<phrasebook::OscilloscopePhrases>(book.phrases).layout.is_used();
    for (const auto kind : {sim::Misbehaviour::block_too_short, sim::Misbehaviour::block_too_long}) {
      INFO(book.name << ", " << sim::name_of(kind));
      Bench b(book);
      REQUIRE_FALSE(b.set_up());
      REQUIRE_FALSE(b.capture());
      b.kind.spoil(kind, has_header ? 3 : 2);
      CHECK(b.capture() == base::ErrorCode::bad_answer);
      b.kind.spoilt->behave();
      CHECK_FALSE(b.capture());
    }
  }
}

TEST_CASE("oscilloscope contract: settings that are not taken are told before anything is captured", "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    const auto& phrases = std::get<phrasebook::OscilloscopePhrases>(book.phrases);
    for (const auto* phrase : {&phrases.probe_factor, &phrases.offset}) {
      INFO(book.name << ", " << *phrase);
      Bench b(book);
      b.kind.ignore(phrasebook::spoken(*phrase, 1));
      CHECK(b.set_up() == base::ErrorCode::setting_not_taken);
      CHECK(b.capture() == base::ErrorCode::bad_input);
    }
    for (const auto* phrase : {&phrases.points, &phrases.interval, &phrases.trigger_source}) {
      INFO(book.name << ", " << *phrase);
      Bench b(book);
      REQUIRE_FALSE(b.set_up());
      b.kind.ignore(phrasebook::spoken(*phrase, 1));
      CHECK(b.capture({1, 500e-6, 20e6, bench::Trigger{1.6, bench::Edge::rising}}) ==
            base::ErrorCode::setting_not_taken);
    }
  }
}

TEST_CASE("oscilloscope contract: a buffer that was given back serves the next capture", "[contract]") {
  for (const auto& book : test::phrasebooks_of("oscilloscope")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.set_up());
    REQUIRE_FALSE(b.capture());
    const auto place = [&] {
      return std::visit([](const auto& codes) { return static_cast<const void*>(codes.data()); }, b.waveform.codes);
    };
    const void* before = place();
    b.kind.instrument->give_back(std::move(b.waveform));
    REQUIRE_FALSE(b.capture());
    CHECK(place() == before);
    CHECK(b.largest_error_v() < tolerance_v);
  }
}
