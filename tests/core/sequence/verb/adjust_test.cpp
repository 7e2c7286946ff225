// SPDX-License-Identifier: Apache-2.0
#include "tests/core/sequence/harness.hpp"
#include "tests/core/sequence/verb/adjusted_unit.hpp"

using namespace eyelevel;
using Catch::Matchers::Contains;

namespace {

std::string with(const std::string& was, const std::string& is) {
  std::string text = test::adjust_sequence();
  return text.replace(text.find(was), was.size(), is);
}

std::string mistakes_with(const bench::ModelSheet& model) {
  const sequence::Sequence sequence = test::checked(test::adjust_sequence());
  yaml::Mistakes mistakes("test.yaml");
  sequence::check_on_model(sequence, &model, mistakes);
  return mistakes.fine() ? "" : yaml::print(mistakes.list().front());
}

bench::ModelSheet sheet() {
  bench::ModelSheet sheet = test::model_sheet();
  sheet.trimmer = bench::Trimmer{};
  return sheet;
}

}  // namespace

TEST_CASE("adjust: a sequence about an open player must say what is dangerous", "[sequence]") {
  CHECK_THAT(test::mistakes_of(with("cautions:\n  - invisible laser radiation\n", "")),
             Contains("the sequence has no `cautions`"));
}

TEST_CASE("adjust: only the laser trimmer is known", "[sequence]") {
  CHECK_THAT(test::mistakes_of(with("adjust: laser trimmer", "adjust: laser trimer")),
             Contains("did you mean 'laser trimmer'?"));
}

TEST_CASE("adjust: a ceiling below what the level may be is refused", "[sequence]") {
  CHECK_THAT(test::mistakes_of(with("never above: 1.45 V", "never above: 1.25 V")),
             Contains("the ceiling lies below the upper end of 'level'"));
}

TEST_CASE("adjust: what is no level of captures cannot be watched", "[sequence]") {
  CHECK_THAT(test::mistakes_of(with("watch: eye level of rf", "watch: i3 over i11 of rf")),
             Contains("cannot be watched"));
  CHECK_THAT(test::mistakes_of(with("watch: eye level of rf", "watch: eye level of dc")), Contains("captures nothing"));
}

TEST_CASE("adjust: a pad behind the gain control is refused before anything is touched", "[sequence]") {
  CHECK(mistakes_with(sheet()).empty());
  bench::ModelSheet behind = sheet();
  behind.pad.point = bench::PadPoint::after_gain_control;
  CHECK_THAT(mistakes_with(behind), Contains("lies after its gain control"));
}

TEST_CASE("adjust: a model without a trimmer is refused", "[sequence]") {
  CHECK_THAT(mistakes_with(test::model_sheet()), Contains("knows no trimmer"));
}

TEST_CASE("adjust: its steps are said in a sentence, with the laser lit meanwhile", "[sequence]") {
  const auto said = sequence::explain(test::checked(test::adjust_sequence()), test::language());
  REQUIRE(said.steps.size() == 1);
  CHECK_THAT(said.steps[0].text, Contains("Adjust the laser trimmer until the eye level of rf is within level"));
  CHECK(said.asked.size() == 1);
}
