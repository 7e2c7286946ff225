// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/told.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;
using metrology::Judgement;

namespace {

void hear(sim::Told& told, event::Body body) {
  event::Event event;
  event.body = std::move(body);
  told.told(event);
}

}  // namespace

TEST_CASE("told: errors, notes, what was seen and what did not pass; not what passed", "[sim]") {
  sim::Told told;
  hear(told, event::Seen{{}, "no eye"});
  hear(told, event::Noted{{}, "64 of 71 kept"});
  hear(told, event::Proved{{}, "self-test", "scope", Judgement::fail, "it found fault 3"});
  hear(told, event::Proved{{}, "calibration", "scope", Judgement::pass, "until 2030-06-30"});
  hear(told, event::Diagnosed{{}, {{"lens dirty", "I3/I11 is low", 0.8}}});
  sequence::RunResult result;
  metrology::Reading low;
  low.name = "level";
  low.measure = "eye level";
  low.value = 1.0;
  low.limit = metrology::Limit{1.08, 1.32};
  low.judgement = Judgement::fail;
  metrology::Reading good = low;
  good.value = 1.2;
  good.judgement = Judgement::pass;
  result.readings = {low, good};
  CHECK(told.all(result) == std::vector<std::string>{"no eye", "64 of 71 kept", "self-test of scope: it found fault 3",
                                                     "lens dirty: I3/I11 is low",
                                                     "level (eye level) is below its limit"});
}

TEST_CASE("told: one of the words in one of the texts is enough, and no words are never told", "[sim]") {
  CHECK(sim::is_told({"last seen: no eye"}, {"clipped", "no eye"}));
  CHECK_FALSE(sim::is_told({"last seen: an eye"}, {"clipped", "no eye"}));
  CHECK_FALSE(sim::is_told({"anything"}, {}));
}
