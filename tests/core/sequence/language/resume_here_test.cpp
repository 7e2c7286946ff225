// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/resume_here.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

using sequence::NameKind;

TEST_CASE("resume here: captures and waveforms are gone, readings and answers stay", "[sequence]") {
  sequence::Scope scope;
  scope.given = {{"pressed", {NameKind::captures, {}}},
                 {"edge", {NameKind::waveform, {}}},
                 {"level", {NameKind::reading, {}}},
                 {"lens", {NameKind::answer, {}}}};
  yaml::Mistakes mistakes("test.yaml");
  sequence::resume_here({12, 5}, {}, {}, scope, mistakes);
  CHECK(scope.given.at("pressed").gone_at_line == 12);
  CHECK(scope.given.at("edge").gone_at_line == 12);
  CHECK(scope.given.at("level").gone_at_line == 0);
  CHECK(scope.given.at("lens").gone_at_line == 0);
  CHECK(mistakes.fine());
}

TEST_CASE("resume here: what is set up there is what the opening sets up", "[sequence]") {
  sequence::Scope scope;
  scope.set_up_probe = {{"rf", 1.0}, {"dc", 0.0}};
  yaml::Mistakes mistakes("test.yaml");
  sequence::resume_here({12, 5}, {}, {{"rf", 10.0}}, scope, mistakes);
  CHECK(scope.set_up_probe == std::map<std::string, double, std::less<>>{{"rf", 10.0}});
}

TEST_CASE("resume here: what is on would be off, which is a mistake", "[sequence]") {
  sequence::Scope scope;
  yaml::Mistakes mistakes("test.yaml");
  sequence::resume_here({12, 5}, {"rail", "tone"}, {}, scope, mistakes);
  REQUIRE(mistakes.size() == 2);
  CHECK(yaml::print(mistakes.list().front()) ==
        "test.yaml:12:5: 'rail' is on here, and would be off when the run is resumed; switch it on in the opening, or "
        "off before this step");
}
