// SPDX-License-Identifier: Apache-2.0
// The trigger model with one layer (SCPI-99 Vol. 2, ch. 24) and what the operation status shows of it (20.1).
#include "sim/instrument/single_reading.hpp"

#include <catch2/catch.hpp>

#include "tests/support/instrument_dialogue.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

// Its reading is the second in which it began.
class Clock final : public sim::SingleReading {
 public:
  explicit Clock(base::Timeline& timeline) : SingleReading(timeline, "Eyelevel,Clock,0,1.0", "CLOCK", 3) {
    register_reading();
    on_waiting("FETCh?", [this](Call& call) { return fetch(call); });
    on("CHANge", [this](Call&) { invalidate(); });
  }
  using SingleReading::Start;
  Start how = Start::at_once;

 private:
  void reset() override { go_idle(); }
  Start starts() const override { return how; }
  double duration_s() const override { return 2; }
  double measured(double begun_s) override { return begun_s; }
};

}  // namespace

TEST_CASE("single reading: initiated it measures at once for its time, and keeps the reading until something changes",
          "[sim]") {
  test::Simulated sim;
  Clock clock(*sim.timeline);
  test::Dialogue ask(sim, clock);
  ask("FETC?");
  CHECK(ask.error() == -230);
  ask.pass(5s);
  ask("INIT");
  CHECK(ask("STAT:OPER:COND?") == "16");  // bit 4, measuring
  ask("INIT");
  CHECK(ask.error() == -213);
  CHECK(ask("FETC?") == "5.00E+00");
  CHECK(sim.timeline->now() >= 7s);
  CHECK(ask("STAT:OPER:COND?;:FETC?") == "0;5.00E+00");
  ask("CHAN;:FETC?");
  CHECK(ask.error() == -230);
}

TEST_CASE("single reading: it waits for its trigger, or until it is aborted", "[sim]") {
  test::Simulated sim;
  Clock clock(*sim.timeline);
  test::Dialogue ask(sim, clock);
  clock.how = Clock::Start::by_bus;
  ask("*TRG");
  CHECK(ask.error() == -211);
  ask("INIT");
  CHECK(ask("STAT:OPER:COND?") == "32");  // bit 5, waiting for trigger
  ask.pass(3s);
  ask("*TRG");
  CHECK(ask("FETC?") == "3.00E+00");
  ask("INIT;:ABOR");
  CHECK(ask("STAT:OPER:COND?") == "0");
  clock.how = Clock::Start::never;
  ask("INIT;*TRG");
  CHECK(ask.error() == -211);
}
