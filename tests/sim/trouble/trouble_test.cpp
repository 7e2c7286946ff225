// SPDX-License-Identifier: Apache-2.0
#include "sim/trouble/trouble.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

TEST_CASE("trouble: each says what happens, what the technician must be told and what must hold", "[sim]") {
  const auto troubles = sim::ready_troubles();
  CHECK(troubles.list().size() >= 50);
  for (const auto& entry : troubles.list()) {
    INFO(entry.declaration.name);
    CHECK_FALSE(entry.declaration.about.empty());
    CHECK_FALSE(entry.call.told.empty());
    CHECK_FALSE(sim::in_words(entry.call.demand).empty());
    // What is told is told in words that a run can be searched for; only what says nothing has none.
    CHECK(entry.call.words.empty() == entry.call.told.starts_with("nothing"));
    if (entry.call.demand.ending == sim::Demand::Ending::stopped) CHECK_FALSE(entry.call.demand.codes.empty());
  }
}

TEST_CASE("trouble: what must hold is said in words", "[sim]") {
  using base::ErrorCode;
  using enum sim::Demand::Ending;
  CHECK(sim::in_words({stopped, {ErrorCode::time_out, ErrorCode::bad_answer}}) ==
        "the run stops with time_out or bad_answer");
  CHECK(sim::in_words({by_truth, {}, {"self-test"}}) ==
        "what is measured is judged as the physics has it; a sequence that looks at self-test shows it");
}
