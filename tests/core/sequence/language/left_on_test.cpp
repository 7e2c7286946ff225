// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/left_on.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

namespace {

sequence::ReadStep puts_on(const std::string& what) {
  sequence::ReadStep read;
  read.puts_on = {"supply", what, "switched on"};
  return read;
}
sequence::ReadStep makes_safe(const std::string& what) {
  sequence::ReadStep read;
  read.makes_safe = what;
  return read;
}

}  // namespace

TEST_CASE("left on: what closing does not make safe is told where it was put on, in its own file", "[sequence]") {
  sequence::LeftOn left_on;
  left_on.step(puts_on("rail"), "steps", "part.yaml", {7, 3});
  left_on.step(makes_safe("rail"), "steps", "part.yaml", {8, 3});
  REQUIRE(left_on.mistakes().size() == 1);
  CHECK(yaml::print(left_on.mistakes().front()) ==
        "part.yaml:7:3: 'rail' is switched on here, and `closing` does not make supply safe; write `make safe: every "
        "instrument` into closing");
}

TEST_CASE("left on: closing may make safe the signal, its instrument, or every instrument", "[sequence]") {
  for (const std::string what : {"rail", "supply", "every instrument"}) {
    sequence::LeftOn left_on;
    left_on.step(puts_on("rail"), "opening", "a.yaml", {7, 3});
    left_on.step(makes_safe(what), "closing", "a.yaml", {9, 3});
    CHECK(left_on.mistakes().empty());
  }
}

TEST_CASE("left on: what `steps` put on is on until it is made safe; the opening's is not counted", "[sequence]") {
  sequence::LeftOn left_on;
  left_on.step(puts_on("bias"), "opening", "a.yaml", {6, 3});
  left_on.step(puts_on("rail"), "steps", "a.yaml", {7, 3});
  left_on.step(puts_on("tone"), "steps", "a.yaml", {8, 3});
  CHECK(left_on.on_now() == std::set<std::string>{"rail", "tone"});
  left_on.step(makes_safe("rail"), "steps", "a.yaml", {9, 3});
  CHECK(left_on.on_now() == std::set<std::string>{"tone"});
  left_on.step(makes_safe("every instrument"), "steps", "a.yaml", {10, 3});
  CHECK(left_on.on_now().empty());
}
