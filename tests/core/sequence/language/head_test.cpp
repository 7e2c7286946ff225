// SPDX-License-Identifier: Apache-2.0
// Instruments, signals and limits are tested with the check; here what other readers use of it.
#include "core/sequence/language/head.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

TEST_CASE("head: a name stands for one thing, and the mistake says for what and since where", "[sequence]") {
  sequence::Scope scope;
  scope.sequence.roles = {{.role = "scope", .kind = "oscilloscope", .rate_hz = {}, .points = {}, .line = 4}};
  scope.sequence.limits = {{"level", "1 V", {}, quantity::voltage, 7, 1}};
  scope.given = {{"a", {sequence::NameKind::reading, quantity::voltage, 9}}};
  yaml::Mistakes mistakes("x");
  CHECK(sequence::is_new_name(scope, "b", {1, 1}, mistakes));
  for (const auto& [name, what] :
       {std::pair{"scope", "an instrument in line 4"}, {"level", "a limit in line 7"}, {"a", "a result in line 9"}}) {
    CHECK_FALSE(sequence::is_new_name(scope, name, {1, 1}, mistakes));
    CHECK_THAT(mistakes.list().back().message, Catch::Contains(what));
  }
}

TEST_CASE("head: inside a part a result may be called as a limit of the sequence around it", "[sequence]") {
  sequence::Scope scope;
  scope.sequence.limits = {{"level", "1 V", {}, quantity::voltage, 7, 1}};
  yaml::Mistakes mistakes("x");
  CHECK(sequence::is_new_name(scope, "level", {1, 1}, mistakes, true));
}
