// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;
using metrology::Judgement;

namespace {

std::string with(const std::string& rows, const std::string& steps) {
  return test::around("  - for each row:\n" + rows + "    do:\n" + steps, "  wide: 2 V to 3 V\n");
}

const std::string two = "      - { disc: pressed, track: 2 }\n      - { disc: recordable, track: 14 }\n";

}  // namespace

TEST_CASE("for each row: its steps are done once for each row, with the row's values in their texts and names",
          "[sequence]") {
  test::FakeBench bench;
  bench.meter_v = [](double) { return 2.5; };
  const auto result =
      bench.run(with(two,
                     "      - note: Now the <disc> disc, track <track>\n      - measure: d.c. level of "
                     "dc\n        within: 20 s\n        name it: level_<disc>\n        must meet: wide\n"));
  REQUIRE_FALSE(result.error);
  const auto notes = bench.journal.of<event::Noted>();
  REQUIRE(notes.size() == 2);
  CHECK(notes[0].text == "Now the pressed disc, track 2");
  CHECK(notes[1].text == "Now the recordable disc, track 14");
  REQUIRE(result.readings.size() == 2);
  CHECK(result.readings[0].name == "level_pressed");
  CHECK(result.readings[1].name == "level_recordable");
}

TEST_CASE("for each row: rows inside rows take the values of both", "[sequence]") {
  test::FakeBench bench;
  const auto result =
      bench.run(with("      - { disc: pressed }\n      - { disc: recordable }\n",
                     "      - for each row:\n          - { place: inner }\n          - { place: outer }\n"
                     "        do:\n          - note: <disc>, <place>\n"));
  REQUIRE_FALSE(result.error);
  const auto notes = bench.journal.of<event::Noted>();
  REQUIRE(notes.size() == 4);
  CHECK(notes[2].text == "recordable, inner");
}

TEST_CASE("for each row: angle brackets around anything else are text", "[sequence]") {
  test::FakeBench bench;
  const auto result = bench.run(with(two, "      - note: a < b > c <no name> <>\n"));
  REQUIRE_FALSE(result.error);
  CHECK(bench.journal.of<event::Noted>().front().text == "a < b > c <no name> <>");
}

TEST_CASE("for each row: a mistake in its steps is told once, one in a row where it stands", "[sequence]") {
  const std::string note = "      - note: x\n";
  CHECK_THAT(test::mistakes_of(with(two, "      - nota: x\n")),
             Catch::Contains("unknown verb 'nota'") && !Catch::Contains("nota'; did you mean 'note'?\ntest.yaml"));
  CHECK_THAT(test::mistakes_of(with(two, "      - note: <dics>\n")),
             Catch::Contains("nothing is filled in for '<dics>'; did you mean 'disc'?"));
  CHECK_THAT(test::mistakes_of(with("      - { disc: a }\n      - { disk: b }\n", note)),
             Catch::Contains("the first row has no column 'disk'; did you mean 'disc'?") &&
                 Catch::Contains("this row has no 'disc'"));
  CHECK_THAT(test::mistakes_of(with("      - pressed\n", note)), Catch::Contains("a row is a group of columns"));
  CHECK_THAT(test::mistakes_of(with("      - { disc: [ a ] }\n", note)), Catch::Contains("a row holds texts"));
  CHECK_THAT(test::mistakes_of(test::around("  - for each row: discs\n    do:\n" + note)),
             Catch::Contains("a table is a list of 1 to 1000 rows"));
  CHECK_THAT(
      test::mistakes_of(with(two, "      - measure: d.c. level of dc\n        within: 20 s\n        name it: a\n")),
      Catch::Contains("'a' is already the name of a result"));
}
