// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/ask_again.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string which =
    "  - prompt: Which disc is in?\n    answer: one of\n    choices: [ pressed, recordable ]\n    within: 10 min\n";

}  // namespace

TEST_CASE("ask again: the question says why the answer before was none, and the record has it", "[sequence]") {
  test::FakeBench bench;
  bench.person.says = "silver";
  bench.person.does = [&](const std::string&) {
    if (bench.person.asked.size() == 2) bench.person.says = "pressed";
  };
  CHECK_FALSE(bench.run(test::around(which)).error);
  REQUIRE(bench.person.questions.size() == 2);
  CHECK(bench.person.questions[0].again.empty());
  CHECK(bench.journal.of<event::Noted>().front().text == "asked again: " + bench.person.questions[1].again);
}

TEST_CASE("ask again: who never gives an answer that can be used is asked 21 times", "[sequence]") {
  test::FakeBench bench;
  bench.person.says = "silver";
  const auto result = bench.run(test::around(which));
  REQUIRE(result.error);
  CHECK(result.error->code == base::ErrorCode::no_answer);
  CHECK_THAT(result.error->message, Catch::Contains("\"Which disc is in?\" was not answered: 'silver' is no answer"));
  CHECK(bench.person.questions.size() == 21);
}
