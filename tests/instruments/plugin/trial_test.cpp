// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/trial.hpp"

#include <catch2/catch.hpp>

#include "tests/instruments/plugin/hostile.hpp"

using namespace eyelevel;
using Catch::Matchers::Contains;

namespace {

// The bad findings, one line each.
std::string wrong_with(const std::filesystem::path& folder) {
  std::string all;
  for (const auto& finding : plugin::try_out(folder))
    if (!finding.is_good) all += finding.what + ": " + finding.seen + "\n";
  return all.empty() ? "nothing" : all;
}

std::string wrong_in(const std::string& mood) {
  const test::HostilePlugin hostile(mood, "starts within: 5 s\nanswers within: 5 s\n");
  return wrong_with(hostile.folder);
}

}  // namespace

TEST_CASE("trial: the examples keep all that a plugin must", "[plugin]") {
  CHECK(wrong_with("examples/plugins/waveform-extras") == "nothing");
  CHECK(plugin::try_out("examples/plugins/waveform-extras").size() > 15);
  CHECK(wrong_with(EYELEVEL_EXAMPLE_LIBRARY) == "nothing");
}

TEST_CASE("trial: a driver and a transport are really asked", "[plugin]") {
  std::string all;
  for (const auto& finding : plugin::try_out(EYELEVEL_EXAMPLE_LIBRARY)) all += finding.what + "\n";
  CHECK_THAT(all, Contains("driver 'shelf-meter': makes safe") &&
                      Contains("transport 'shelf': carries a question and its answer") &&
                      Contains("transport 'shelf': has no answer left when it was cleared"));
}

TEST_CASE("trial: a plugin that breaks its contract is named with what it does", "[plugin]") {
  CHECK_THAT(wrong_in("crash"), Contains("verb 'poke': answers what its example asks") && Contains("signal 11"));
  CHECK_THAT(wrong_in("hang"), Contains("it hangs"));
  CHECK_THAT(wrong_in("garbage"), Contains("it is no JSON"));
  CHECK_THAT(wrong_in("flood"), Contains("it floods"));
  CHECK_THAT(wrong_in("wrong unit"), Contains("the reading is in 'A', but 'V' is declared"));
  CHECK_THAT(wrong_in("minus"), Contains("the standard uncertainty is -1"));
  CHECK_THAT(wrong_in("refuse"), Contains("its own example asks for it"));
  CHECK_THAT(wrong_in("stays"), Contains("it went on and had to be killed"));
  CHECK_THAT(wrong_in("newer"), Contains("it speaks protocol 2"));
  CHECK_THAT(wrong_in("mute"), Contains("no answer in time"));
}

TEST_CASE("trial: answering for parts that one does not have is a breach", "[plugin]") {
  CHECK_THAT(wrong_in("good"), Contains("it answered as if it had that part"));
}
