// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/expression/condition.hpp"

#include <catch2/catch.hpp>

#include <map>

#include "tests/core/sequence/expression/values.hpp"

using namespace eyelevel;

namespace {

const sequence::NamedLimits limits = {{"wide", {{0.5, 2.0}, quantity::voltage}},
                                      {"narrow", {{1.19, 1.21}, quantity::voltage}},
                                      {"high", {{3.0, {}}, quantity::voltage}}};

sequence::Condition::Outcome outcome(const std::string& text) {
  const auto found = sequence::parse_condition(text, test::named, limits);
  if (!found) FAIL(text << ": " << found.error().message);
  return found->holds(test::value_of);
}

bool holds(const std::string& text) { return outcome(text).holds; }

std::string mistake(const std::string& text) {
  const auto found = sequence::parse_condition(text, test::named, limits);
  if (found) return "none";
  return std::to_string(found.error().offset) + ": " + found.error().message + "; " + found.error().suggestion;
}

}  // namespace

TEST_CASE("condition: comparisons hold values against each other, ends included where the words say so",
          "[condition]") {
  CHECK(holds("a is above b"));
  CHECK_FALSE(holds("a is below b"));
  CHECK(holds("t is at least 2 s"));
  CHECK(holds("t is at most 2 s"));
  CHECK_FALSE(holds("t is above 2 s"));
  CHECK_FALSE(holds("t is below 2000 ms"));
  CHECK(holds("difference of a and b is below 0.5 V"));
  CHECK(holds("a - b is at least 10 % * a"));
}

TEST_CASE("condition: `meets` is true for pass only", "[condition]") {
  CHECK(holds("a meets wide"));
  CHECK_FALSE(holds("a meets narrow"));     // undecided: the interval reaches beyond
  CHECK_FALSE(holds("a meets high"));       // fail
  CHECK_FALSE(holds("spoilt meets wide"));  // cannot pass
  CHECK(holds("mean of a and b meets wide"));
}

TEST_CASE("condition: `and` binds closer than `or`, `not` turns one around", "[condition]") {
  CHECK(holds("a is below b and t is above 1 s or t is at most 2 s"));
  CHECK_FALSE(holds("a is below b and t is at most 2 s or a is below b"));
  CHECK(holds("not a meets narrow"));
  // An `and` behind a list of two begins another condition.
  CHECK(holds("a is above mean of a and b and t is below 3 s"));
}

TEST_CASE("condition: it says why", "[condition]") {
  // The expanded uncertainty: 1.96 times the root of 24 mV and 10 mV squared.
  CHECK(outcome("a is below b").because == "a is 1.2 V, not below 800 mV");
  CHECK(outcome("t is at least 2 s and a meets high").because ==
        "t is 2 s, at least 2 s; a is 1.2 V ± 50.96 mV and does not meet high");
  CHECK(outcome("a meets narrow").because == "a is 1.2 V ± 50.96 mV and is too near to the end of narrow");
}

TEST_CASE("condition: its names are those of all its parts", "[condition]") {
  const auto found =
      sequence::parse_condition("a is below b and t is at least 1 s or a meets wide", test::named, limits);
  REQUIRE(found);
  CHECK(found->names() == std::vector<std::string>{"a", "b", "t"});
}

TEST_CASE("condition: mistakes say where, what, and what would be right", "[condition]") {
  CHECK(mistake("a") ==
        "1: expected `is below`, `is above`, `is at least`, `is at most` or `meets` here; write `level is below 1.3 V` "
        "or "
        "`level meets LIMIT`");
  CHECK(mistake("a is below t") ==
        "2: 'a' is a voltage, 't' is a time: they cannot be compared; compare quantities of one kind");
  CHECK(mistake("a meets wid") == "8: unknown limit 'wid'; did you mean 'wide'?");
  CHECK(mistake("a meets") == "7: the name of a limit is missing; write 'high', 'narrow' or 'wide'");
  CHECK(mistake("t meets wide") == "0: 't' is a time, the limit 'wide' is a voltage; take a limit of the same kind");
  CHECK(mistake("a is below b but t is above 1 s") ==
        "13: nothing may follow here, found 'but t is above 1 s'; join two conditions with `and` or `or`");
  CHECK(mistake("a is below b and") == "16: a value is missing at the end; write a name or a quantity there");
  CHECK(mistake("a is between b") ==
        "2: expected `is below`, `is above`, `is at least`, `is at most` or `meets` here; write `level is below 1.3 V` "
        "or "
        "`level meets LIMIT`");
}

TEST_CASE("condition: what the operator told is compared by `is` and `is not`", "[condition]") {
  const std::map<std::string, std::vector<std::string>, std::less<>> known = {
      {"lens", {"yes", "no"}}, {"disc", {"no", "no disc", "pressed"}}, {"code", {}}};
  const sequence::NamedAnswers answers = [&](std::string_view name) -> const std::vector<std::string>* {
    const auto it = known.find(name);
    return it == known.end() ? nullptr : &it->second;
  };
  const auto told = [](const std::string& name) -> std::string {
    return name == "lens" ? "yes" : name == "disc" ? "no disc" : "LFP-0042";
  };
  const auto holds_told = [&](const std::string& text) {
    const auto found = sequence::parse_condition(text, test::named, limits, answers);
    if (!found) FAIL(text << ": " << found.error().message);
    return found->holds(test::value_of, told).holds;
  };
  CHECK(holds_told("lens is yes"));
  CHECK_FALSE(holds_told("lens is not yes"));
  CHECK(holds_told("not lens is no"));
  CHECK(holds_told("disc is no disc and a is above b"));
  CHECK_FALSE(holds_told("disc is no or a is below b"));
  CHECK(holds_told("code is LFP-0042"));
  const auto found = sequence::parse_condition("disc is no disc", test::named, limits, answers);
  REQUIRE(found);
  CHECK(found->holds(test::value_of, told).because == "disc is 'no disc'");
  CHECK(found->names() == std::vector<std::string>{"disc"});
}

TEST_CASE("condition: an answer that nobody can give is refused with those that can be given", "[condition]") {
  const auto wrong = [](const std::string& text) {
    static const std::vector<std::string> yes_no = {"yes", "no"};
    const auto found = sequence::parse_condition(
        text, {}, {}, [](std::string_view name) { return name == "lens" ? &yes_no : nullptr; });
    return found
               ? "none"
               : std::to_string(found.error().offset) + ": " + found.error().message + "; " + found.error().suggestion;
  };
  CHECK(wrong("lens is clean") == "8: nobody can answer 'clean' there; write 'yes' or 'no'");
  CHECK(wrong("lens is") == "7: the answer is missing; write 'yes' or 'no'");
  CHECK(wrong("lens meets level") ==
        "5: 'lens' was told by the operator: expected `is` behind it; write `lens is yes`");
}
