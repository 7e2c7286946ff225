// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/outside/results.hpp"

#include <cmath>

#include "tests/core/sequence/outside/parts.hpp"

using namespace eyelevel;
using Catch::Matchers::Contains;

namespace {

std::string wrong_of(registers::OutsideReading reading) {
  const test::Outside outside;
  try {
    sequence::reading_of(outside.verb(), {.reading = std::move(reading), .notes = {}, .numbers = {}, .text = {}}, "a");
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_answer);
    CHECK(error.record().where == "verb 'share' of plugin test");
    return error.what();
  }
  return "nothing";
}

}  // namespace

TEST_CASE("outside: a reading that cannot be is refused", "[sequence]") {
  CHECK(wrong_of({.value = 1, .unit = "1", .standard_uncertainty = 0.1}) == "nothing");
  CHECK_THAT(wrong_of({.value = 1, .unit = "V", .standard_uncertainty = 0.1}),
             Contains("the reading is in 'V', but '1' is declared"));
  CHECK_THAT(wrong_of({.value = NAN, .unit = "1", .standard_uncertainty = 0.1}), Contains("is no number"));
  CHECK_THAT(wrong_of({.value = INFINITY, .unit = "1", .standard_uncertainty = 0.1}), Contains("is no number"));
  CHECK_THAT(wrong_of({.value = 1, .unit = "1", .standard_uncertainty = -1}),
             Contains("the standard uncertainty is -1"));
  CHECK_THAT(wrong_of({.value = 1, .unit = "1", .standard_uncertainty = NAN}), Contains("the standard uncertainty"));
  CHECK_THAT(wrong_of({.value = 1, .unit = "1", .standard_uncertainty = 0.1, .degrees_of_freedom = 0.5}),
             Contains("0.5 degrees of freedom"));
  CHECK_THAT(wrong_of({.value = 1, .unit = "1", .standard_uncertainty = 0.1, .degrees_of_freedom = 2, .count = 0}),
             Contains("made of 0 observations"));
}

TEST_CASE("outside: an answer without a reading is refused where one was declared", "[sequence]") {
  const test::Outside outside;
  CHECK_THROWS_WITH(sequence::reading_of(outside.verb(), {}, "a"), Contains("the answer holds no reading"));
}

TEST_CASE("outside: a reading without uncertainty says that it is taken as exact", "[sequence]") {
  const test::Outside outside;
  registers::Answer answer;
  answer.reading = registers::OutsideReading{.value = 1, .unit = "1"};
  const auto reading = sequence::reading_of(outside.verb(), answer, "a");
  CHECK(reading.interval.expanded_uncertainty == 0);
  REQUIRE(reading.notes.size() == 1);
  CHECK_THAT(reading.notes[0], Contains("taken as exact"));
}
