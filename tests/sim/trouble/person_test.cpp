// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include "tests/sim/trouble/with_trouble.hpp"

using namespace eyelevel;
using test::with;

TEST_CASE("trouble: of the person, each mistake is made always and no other one is", "[sim]") {
  CHECK(with("wrong disc").person.mistakes.wrong_disc == 1);
  CHECK(with("nobody there").person.mistakes.untrue_done == 1);
  CHECK(with("operator away").person.mistakes.absent == 1);
  CHECK(with("track not started").person.mistakes.start_forgotten == 1);
  CHECK(with("player paused").person.mistakes.paused == 1);
  CHECK(with("wrong way").person.mistakes.wrong_direction == 1);
  CHECK(with("wrong trimmer").person.mistakes.wrong_trimmer == 1);
  CHECK(with("wrong disc").person.mistakes.untrue_done == 0);
}

TEST_CASE("trouble: a hasty operator is quicker and makes each mistake of hasty people now and then", "[sim]") {
  const auto person = with("hasty operator").person;
  CHECK_FALSE(person.careful);
  CHECK(person.mistakes.wrong_direction == 0.10);
  CHECK(person.mistakes.step_forgotten == 0.03);
}
