// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/step_verb.hpp"

#include <catch2/catch.hpp>

#include "core/yaml/load.hpp"
#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

std::string found(const std::string& text) {
  yaml::Mistakes mistakes("s.yaml");
  const auto* verb = sequence::verb_of(yaml::load_text("s.yaml", text).root, test::language().verbs, mistakes);
  return verb ? verb->declaration.name : yaml::print(mistakes.list().at(0));
}

}  // namespace

TEST_CASE("step verb: a step begins with its verb", "[sequence]") {
  CHECK(found("note: x\n") == "note");
  CHECK(found("within: 5 s\nmeasure: x\n") ==
        "s.yaml:1:1: a step begins with its verb, found 'within'; put `measure` first");
  CHECK(found("mesure: x\n") == "s.yaml:1:1: unknown verb 'mesure'; did you mean 'measure'?");
  CHECK(found("measure\n") ==
        "s.yaml:1:1: a step is a verb with what it does, found the text 'measure'; write it as in `- note: The disc is "
        "scratched`");
}
