// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/rehearse.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/support/ready_plan.hpp"
#include "tests/support/small_bench.hpp"

using namespace eyelevel;

namespace {

// Every one; under the address sanitizer, which looks for other things and takes ten times as long, every fourth.
std::vector<std::string> each_trouble(const sim::Troubles& troubles) {
#if __has_feature(address_sanitizer)
  constexpr std::size_t step = 4;
#else
  constexpr std::size_t step = 1;
#endif
  const auto all = troubles.names();
  std::vector<std::string> some;
  for (std::size_t i = 0; i < all.size(); i += step) some.push_back(all[i]);
  return some;
}

}  // namespace

TEST_CASE("rehearsal: a healthy unit is measured, and its stated interval holds the truth of the physics", "[sim]") {
  const test::ReadyPlan ready("pickup-level");
  const auto units = ready.rehearse(ready.plan(7, 1));
  REQUIRE(units.size() == 1);
  const auto& unit = units.front();
  INFO(unit.wrong);
  CHECK(unit.wrong.empty());
  CHECK(unit.serial == "LF2-00001");
  REQUIRE(unit.result.readings.size() == 1);
  const auto& reading = unit.result.readings.front();
  REQUIRE(unit.truths.count("level_pressed") == 1);
  // Twice the half-width: one unit in some thousands lies beyond; this seed does not.
  CHECK(std::abs(reading.value - unit.truths.at("level_pressed")) < 2 * reading.interval.expanded_uncertainty);
}

TEST_CASE("rehearsal: the same seed gives the same numbers, alone or among others", "[sim]") {
  const test::ReadyPlan ready("pickup-level");
  const auto three = ready.rehearse(ready.plan(11, 3));
  const auto again = ready.rehearse(ready.plan(11, 3));
  const auto store = record::open_memory_store({.keep_captures = false});
  const auto second = sim::rehearse_unit(ready.plan(11, 1), 2, *store);
  REQUIRE(three.size() == 3);
  for (std::size_t i = 0; i < 3; ++i) {
    CHECK(three[i].result.readings.front().value == again[i].result.readings.front().value);
    CHECK(three[i].simulated_s == again[i].simulated_s);
  }
  CHECK(second.result.readings.front().value == three[1].result.readings.front().value);
}

TEST_CASE("rehearsal: an unknown trouble is refused with the nearest name before anything runs", "[sim]") {
  const test::ReadyPlan ready("pickup-level");
  CHECK_THROWS_WITH(ready.rehearse(ready.plan(1, 1, {"level to high"})), Catch::Contains("level too high"));
}

TEST_CASE("rehearsal: every trouble ends as it demands, for three units each", "[sim]") {
  const test::ReadyPlan ready("pickup-level");
  for (const auto& name : each_trouble(ready.troubles))
    for (const auto& unit : ready.rehearse(ready.plan(21, 3, {name}))) {
      INFO(name << ", " << unit.serial << ": " << unit.wrong);
      if (unit.result.error) UNSCOPED_INFO(base::describe(*unit.result.error));
      CHECK(unit.wrong.empty());
    }
}

TEST_CASE("rehearsal: a bench in memory keeps its accuracies and is reached by role", "[sim]") {
  const auto bench = sim::in_memory(test::small_bench());
  CHECK(bench.find("scope")->resource == "MEMORY0::scope::INSTR");
  CHECK(bench.find("scope")->gain_accuracy == Approx(0.015));
}

TEST_CASE("rehearsal: the bench proof passes on healthy benches, and says what it left out without a counter",
          "[sim]") {
  const test::ReadyPlan full("bench-proof", bench::read_bench_file("examples/bench.yaml").bench);
  for (const auto& unit : full.rehearse(full.plan(31, 3))) {
    INFO(unit.serial << ": " << unit.wrong);
    CHECK(unit.result.judgement == metrology::Judgement::pass);
    CHECK(unit.wrong.empty());
  }
  const test::ReadyPlan small("bench-proof");
  const auto units = small.rehearse(small.plan(31, 1));
  // The small bench states neither calibrator nor identities: those are left out, and nothing else fails.
  CHECK(units.at(0).result.judgement == metrology::Judgement::pass);
  for (const auto& reading : units.at(0).result.readings) CHECK(reading.name != "clock_ratio");
}

TEST_CASE("rehearsal: the bench proof catches each trouble of the bench and names it", "[sim]") {
  const test::ReadyPlan ready("bench-proof", bench::read_bench_file("examples/bench.yaml").bench);
  const std::pair<const char*, const char*> rows[] = {{"probe switched to x1", "factor"},
                                                      {"probe not compensated", "flatness"},
                                                      {"clock off", "clock_ratio"},
                                                      {"self-test fails", "self-test"},
                                                      {"calibration overdue", "calibration"}};
  for (const auto& [trouble, shown_by] : rows)
    for (const auto& unit : ready.rehearse(ready.plan(33, 3, {trouble}))) {
      INFO(trouble << ", " << unit.serial << ": " << unit.wrong);
      std::vector<std::string> failed;
      for (const auto& item : unit.result.proofs)
        if (item.judgement == metrology::Judgement::fail) failed.push_back(item.item);
      for (const auto& reading : unit.result.readings)
        if (reading.judgement == metrology::Judgement::fail) failed.push_back(reading.name);
      CHECK(unit.wrong.empty());
      CHECK(unit.result.judgement == metrology::Judgement::fail);
      REQUIRE_FALSE(failed.empty());
      CHECK(failed.front() == shown_by);
    }
}

TEST_CASE("rehearsal: a sample clock that is off shows against a function generator alone, too", "[sim]") {
  bench::BenchFile bench = test::every_kind_bench();
  std::erase_if(bench.instruments, [](const auto& one) { return one.kind == "counter"; });
  const test::ReadyPlan ready("bench-proof", bench);
  for (const auto& unit : ready.rehearse(ready.plan(37, 3, {"clock off"}))) {
    INFO(unit.serial << ": " << unit.wrong);
    CHECK(unit.wrong.empty());
    int looked = 0;
    for (const auto& reading : unit.result.readings) {
      if (reading.name != "generator_clock_ratio") continue;
      ++looked;
      CHECK(reading.judgement == metrology::Judgement::fail);
    }
    CHECK(looked == 1);
  }
}

TEST_CASE("rehearsal: every trouble ends the bench proof as it demands", "[sim]") {
  const test::ReadyPlan ready("bench-proof", bench::read_bench_file("examples/bench.yaml").bench);
  for (const auto& name : each_trouble(ready.troubles))
    for (const auto& unit : ready.rehearse(ready.plan(35, 1, {name}))) {
      INFO(name << ", " << unit.serial << ": " << unit.wrong);
      CHECK(unit.wrong.empty());
    }
}
