// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/outside/add.hpp"

#include "core/sequence/language/table.hpp"
#include "tests/core/sequence/outside/parts.hpp"

using namespace eyelevel;
using Catch::Matchers::Contains;

namespace {

sequence::Language with(const std::vector<registers::OutsidePart>& parts) {
  sequence::Language language = sequence::ready_language();
  for (const auto& part : parts) sequence::add_outside(language, part);
  return language;
}

const std::string measured = test::capture_step +
                             "  - measure: eye level of pressed\n    name it: level_pressed\n"
                             "  - measure: spread of pressed\n    above: 1 V\n    name it: spread\n";
const std::string shared = "  - share: level_pressed\n    full: 1.6 V\n    within: 5 s\n    name it: part\n";

}  // namespace

TEST_CASE("outside: a verb and a measure are asked with their values and results, and their readings are kept",
          "[sequence]") {
  const test::Outside outside;
  const auto language = with({outside.verb(), outside.measure()});
  test::FakeBench bench;
  const auto result = bench.run(test::checked_with(language, test::around(measured + shared)));
  REQUIRE(result.ended == "finished");
  REQUIRE(outside.asked->size() == 2);
  const auto& spread = outside.asked->at(0);
  CHECK(spread.name == "spread");
  CHECK(std::get<double>(spread.values.at("above")) == 1.0);
  CHECK(std::get<registers::OutsideCaptures>(spread.results.at("of")).size() == 16);
  const auto& share = outside.asked->at(1);
  CHECK(std::get<double>(share.values.at("full")) == 1.6);
  CHECK_FALSE(share.values.contains("share"));
  CHECK(std::get<registers::OutsideReading>(share.results.at("share")).unit == "V");
  REQUIRE(result.readings.size() == 3);
  CHECK(result.readings[1].name == "spread");
  CHECK(result.readings[1].of == "rf");
  CHECK(result.readings[2].name == "part");
  CHECK(result.readings[2].interval.standard_uncertainty == Approx(0.1));
  CHECK(result.readings[2].inputs == std::vector<std::string>{"level_pressed"});
}

TEST_CASE("outside: what a part does wrong is an error of its step, and the closing runs", "[sequence]") {
  test::Outside outside;
  outside.answer = [](const registers::Question&) -> registers::Answer {
    base::Error error(base::ErrorCode::bad_answer, "it crashed");
    error.within("plugin test");
    throw error;
  };
  const auto language = with({outside.verb(), outside.measure()});
  test::FakeBench bench;
  const auto result = bench.run(test::checked_with(language, test::around(measured)));
  CHECK(result.ended == "stopped");
  REQUIRE(result.error);
  CHECK_THAT(result.error->where, Contains("step \"measure: spread of pressed\"") && Contains("plugin test"));
  CHECK(bench.scope_is_safe);
  CHECK(bench.meter_is_safe);
}

TEST_CASE("outside: check knows keys, names and dimensions of what was added", "[sequence]") {
  const test::Outside outside;
  const auto language = with({outside.verb(), outside.measure()});
  const auto wrong = [&](const std::string& steps) {
    return test::mistakes_with(language, test::around(test::capture_step + steps));
  };
  CHECK_THAT(wrong("  - share: pressed\n    full: 1.6 V\n    within: 5 s\n"),
             Contains("'pressed' is captures") && Contains("needs a reading"));
  CHECK_THAT(wrong("  - share: level\n    within: 5 s\n"), Contains("'full' is missing"));
  CHECK_THAT(wrong("  - share: level\n    full: 3 s\n    within: 5 s\n"), Contains("expected a voltage"));
  CHECK_THAT(wrong("  - share: level\n    fulll: 3 V\n    within: 5 s\n"), Contains("fulll") && Contains("full"));
  CHECK_THAT(wrong("  - share: level\n    full: 3 V\n"), Contains("'within' is missing"));
  CHECK_THAT(wrong("  - shar: level\n    full: 3 V\n"), Contains("unknown verb 'shar'; did you mean 'share'?"));
  CHECK_THAT(wrong("  - measure: spread of pressed\n"), Contains("'above' is missing"));
  CHECK_THAT(wrong("  - measure: spread of rf\n    above: 1 V\n"),
             Contains("spread is measured of what a step before"));
  CHECK_THAT(wrong("  - measure: spread of pressed\n    above: 1 V\n    must meet: level\n"),
             Contains("the limit 'level' is a voltage"));
  CHECK_THAT(wrong("  - measure: eye level of pressed\n    above: 1 V\n"),
             Contains("test.yaml:29:5: 'above' says nothing to the measure 'eye level'; leave it out"));
}

TEST_CASE("outside: the schema knows what was added", "[sequence]") {
  const test::Outside outside;
  const std::string schema = sequence::sequence_schema(with({outside.verb(), outside.measure()}));
  CHECK_THAT(schema, Contains("\"share\"") && Contains("\"full\"") && Contains("\"above\""));
}

TEST_CASE("outside: names and keys that are taken are refused, and the language stays as it was", "[sequence]") {
  const test::Outside outside;
  sequence::Language language = with({outside.measure()});
  const auto refused = [&](const registers::OutsidePart& part) {
    const auto verbs = language.verbs.names(), measures = language.measures.names();
    std::string why = "nothing";
    try {
      sequence::add_outside(language, part);
    } catch (const base::Error& error) {
      why = error.what();
    }
    CHECK(language.verbs.names() == verbs);
    CHECK(language.measures.names() == measures);
    return why;
  };
  auto verb = outside.verb();
  verb.declaration.name = "measure";
  CHECK_THAT(refused(verb), Contains("verb 'measure' from plugin test is refused: the name is taken"));
  auto measure = outside.measure();
  CHECK_THAT(refused(measure), Contains("the name is taken"));
  measure.declaration.name = "other spread";
  measure.declaration.parameters.keys[0].dimension = quantity::time;
  CHECK_THAT(refused(measure), Contains("its key 'above' means something else"));
  measure.declaration.parameters.keys[0].name = "over";
  CHECK_THAT(refused(measure), Contains("its key 'over' is the house's own"));
  verb = outside.verb();
  verb.declaration.parameters.keys[1].type = yaml::Type::group;
  CHECK_THAT(refused(verb), Contains("cannot be handed out"));
}

TEST_CASE("outside: a verb without a reading leaves its notes in the record", "[sequence]") {
  test::Outside outside;
  auto verb = outside.verb();
  verb.gives.reset();
  test::FakeBench bench;
  const auto result = bench.run(test::checked_with(
      with({verb}), test::around(test::capture_step + "  - measure: eye level of pressed\n    name it: level_pressed\n"
                                                      "  - share: level_pressed\n    full: 1.6 V\n    within: 5 s\n")));
  REQUIRE(result.ended == "finished");
  const auto noted = std::any_of(bench.journal.events.begin(), bench.journal.events.end(), [](const event::Event& e) {
    const auto* note = std::get_if<event::Noted>(&e.body);
    return note && note->text == "seen";
  });
  CHECK(noted);
}
