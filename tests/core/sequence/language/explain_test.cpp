// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/explain.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

sequence::Explanation explained(const std::string& steps, const std::string& limits = "  level: 1.20 V ± 10 %\n") {
  return sequence::explain(test::checked(test::around(steps, limits)), test::language());
}

std::vector<std::string> texts(const std::vector<sequence::Sentence>& list) {
  std::vector<std::string> all;
  for (const auto& s : list) all.push_back(std::string(static_cast<std::size_t>(s.depth), '+') + s.text);
  return all;
}

}  // namespace

TEST_CASE("explain: steps are sentences with what they give, must meet and may take", "[sequence]") {
  const auto e =
      explained("  - prompt: Insert the pressed test disc and start track 2\n    within: 10 min\n" +
                test::capture_step + "  - measure: eye level of pressed\n    name it: a\n    must meet: level\n");
  CHECK(texts(e.steps) ==
        std::vector<std::string>{
            "Ask the operator: Insert the pressed test disc and start track 2; at most 10 min.",
            "Capture 16 settled waveforms of rf, each 500 us long, trying at most 40; call it pressed; at most 1 min.",
            "Measure the eye level of pressed; call it a; it must be 1.20 V ± 10 % (level)."});
  CHECK(e.opening.at(0).text ==
        "Set up rf, probe x10, coupling dc, screen 0.6 V to 2.6 V at the probe tip; at most 5 s.");
  CHECK(e.steps.at(2).number == "3");
  REQUIRE(e.asked.size() == 1);
  CHECK(e.asked[0].text == "Insert the pressed test disc and start track 2");
}

TEST_CASE("explain: steps inside stand under what decides or repeats them", "[sequence]") {
  const auto e = explained(
      "  - repeat: at most 6 times\n    pause: 30 s\n    until: a meets level\n    do:\n"
      "      - measure: d.c. level of dc\n        over: 4 s\n        within: 20 s\n        name it: a\n"
      "    otherwise:\n      - note: never\n"
      "  - if: a is above 1 V\n    then:\n      - note: high\n    otherwise:\n      - note: low\n");
  CHECK(texts(e.steps) == std::vector<std::string>{"Repeat at most 6 times, pause 30 s, until a meets level:",
                                                   "+Measure the d.c. level of dc, over 4 s; call it a; at most 20 s.",
                                                   "If it does not come about:", "+Write down: never.",
                                                   "If a is above 1 V:", "+Write down: high.",
                                                   "Otherwise:", "+Write down: low."});
}

TEST_CASE("explain: the longest time follows from the bounds, the likely one from the usual course", "[sequence]") {
  const auto bare = explained("  - note: x\n");
  const auto e = explained(
      "  - repeat: 5 times\n    pause: 30 s\n    do:\n      - measure: d.c. level of dc\n        over: 4 s\n"
      "        within: 20 s\n        try again: at most 2 times, after 5 s\n");
  CHECK(e.whole.likely_s - bare.whole.likely_s == Approx(5 * 4 + 4 * 30).margin(0.1));
  CHECK(e.whole.longest_s - bare.whole.longest_s == Approx(5 * (3 * 20 + 2 * 5) + 4 * 30).margin(0.1));
  const auto soak = explained(
      "  - repeat: every 1 min for 8 h\n    do:\n      - measure: d.c. level of dc\n        over: 4 s\n"
      "        within: 20 s\n");
  CHECK(soak.whole.likely_s - bare.whole.likely_s == Approx(479 * 60 + 4).margin(0.1));
}

TEST_CASE("explain: the laser is lit from the prompt that starts a disc to the one that stops it", "[sequence]") {
  const std::string measured = "  - measure: d.c. level of dc\n    over: 4 s\n    within: 20 s\n";
  CHECK(explained(measured).laser_lit.longest_s == 0);
  const auto e = explained("  - prompt: Insert the pressed test disc and start track 2\n    within: 10 min\n" +
                           measured + "  - prompt: Switch the player off\n    within: 1 min\n" + measured);
  // Switching off takes its time while the laser is lit.
  CHECK(e.laser_lit.longest_s == Approx(20 + 60));
  CHECK(e.laser_lit.likely_s == Approx(4 + 17));
}

TEST_CASE("explain: durations are told in words", "[sequence]") {
  CHECK(sequence::in_words({0.2, 59}) == "about 1 s, at most 59 s");
  CHECK(sequence::in_words({60, 3725}) == "about 1 min, at most 1 h 2 min");
}

TEST_CASE("explain: every verb has a sentence, made of its own keys", "[sequence]") {
  for (const auto& verb : test::language().verbs.list()) {
    CAPTURE(verb.declaration.name);
    const std::string& sentence = verb.declaration.sentence;
    CHECK_FALSE(sentence.empty());
    for (std::size_t at = 0; (at = sentence.find('<', at)) != std::string::npos; ++at) {
      const std::string key = sentence.substr(at + 1, sentence.find('>', at) - at - 1);
      CHECK(verb.declaration.parameters.find(key) != nullptr);
    }
  }
}

TEST_CASE("explain: a judgement names its limit, and what is done where it is not met", "[sequence]") {
  const auto e = explained(
      "  - measure: d.c. level of dc\n    within: 20 s\n    name it: a\n"
      "  - judge: a\n    must meet: level\n    otherwise:\n      - note: not met\n");
  CHECK(texts(e.steps) ==
        std::vector<std::string>{"Measure the d.c. level of dc; call it a; at most 20 s.", "Hold a against level.",
                                 "If it does not come about or does not meet its limit:", "+Write down: not met."});
}
