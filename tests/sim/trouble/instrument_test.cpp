// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <set>

#include "sim/trouble/trouble.hpp"
#include "tests/support/small_bench.hpp"

using namespace eyelevel;

TEST_CASE("trouble: every misbehaviour of an instrument has a trouble that switches it on", "[sim]") {
  const auto troubles = sim::ready_troubles();
  std::vector<sim::Misbehaviour> seen;
  for (const auto& entry : troubles.list()) {
    auto make = sim::draw_unit(1, {}, test::small_bench());
    base::Random random(1, entry.declaration.name);
    entry.call.apply(make, random);
    for (const auto& fault : make.instrument_of_kind("oscilloscope")->faults) seen.push_back(fault.kind);
  }
  // Rehearsals run without a network, and for these it is the carrier that shows them; or they end like others.
  const std::set<sim::Misbehaviour> only_served = {sim::Misbehaviour::trickle,
                                                   sim::Misbehaviour::signs_in_identity,
                                                   sim::Misbehaviour::long_answer,
                                                   sim::Misbehaviour::endless_answer,
                                                   sim::Misbehaviour::close_after_answer,
                                                   sim::Misbehaviour::block_without_length,
                                                   sim::Misbehaviour::no_service_requests,
                                                   sim::Misbehaviour::wrong_status_byte,
                                                   sim::Misbehaviour::locked,
                                                   sim::Misbehaviour::deaf,
                                                   sim::Misbehaviour::wrong_message_id,
                                                   sim::Misbehaviour::wrong_message_type};
  for (const auto kind : sim::all_misbehaviours()) {
    if (only_served.contains(kind)) continue;
    INFO(sim::name_of(kind));
    CHECK(std::find(seen.begin(), seen.end(), kind) != seen.end());
  }
}

TEST_CASE("trouble: where a fault strikes is drawn, from the first query on", "[sim]") {
  const auto troubles = sim::ready_troubles();
  int least = 1000, most = 0;
  for (std::uint64_t seed = 0; seed < 100; ++seed) {
    auto make = sim::draw_unit(1, {}, test::small_bench());
    base::Random random(seed, "scope silent");
    troubles.find("scope silent")->call.apply(make, random);
    const int from = make.instrument_of_kind("oscilloscope")->faults.front().from_query;
    least = std::min(least, from);
    most = std::max(most, from);
  }
  CHECK(least >= 1);
  CHECK(least <= 5);
  CHECK(most >= 55);
}
