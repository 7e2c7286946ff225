// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/expression/expression.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "tests/core/sequence/expression/values.hpp"

using namespace eyelevel;

namespace {

sequence::Expression parsed(const std::string& text) {
  const auto found = sequence::parse_expression(text, test::named);
  if (!found) FAIL(text << ": " << found.error().message);
  return *found;
}

metrology::Reading worth(const std::string& text) { return parsed(text).value(test::value_of).reading; }

// "offset: message; suggestion"
std::string mistake(const std::string& text) {
  const auto found = sequence::parse_expression(text, test::named);
  if (found) return "none";
  return std::to_string(found.error().offset) + ": " + found.error().message + "; " + found.error().suggestion;
}

}  // namespace

TEST_CASE("expression: products bind closer than sums, and equals go from left to right", "[expression]") {
  CHECK(worth("1 V + 2 * 3 V").value == Approx(7));
  CHECK(worth("(1 V + 2 V) * 3").value == Approx(9));
  CHECK(worth("10 V - 3 V - 2 V").value == Approx(5));
  CHECK(worth("12 V / 3 / 2").value == Approx(2));
  CHECK(worth("-1 V + 2 V").value == Approx(1));
  CHECK(worth("10 % * 3 V").value == Approx(0.3));
}

TEST_CASE("expression: words take lists and pairs", "[expression]") {
  CHECK(worth("mean of a and b").value == Approx(1));
  CHECK(worth("mean of a, b and 4 V").value == Approx(2));
  CHECK(worth("mean of a, b and (2 V + 2 V)").value == Approx(2));
  CHECK(worth("largest of a, b").value == Approx(1.2));
  CHECK(worth("smallest of a and b").value == Approx(0.8));
  CHECK(worth("difference of a and b").value == Approx(0.4));
  CHECK(worth("ratio of a and b").value == Approx(1.5));
  CHECK(worth("mean of a").value == Approx(1.2));
  CHECK(worth("mean of a and b + 1 V").value == Approx(2));
}

TEST_CASE("expression: units follow from the operations", "[expression]") {
  CHECK(worth("a / t").unit == "V s^-1");
  CHECK(worth("a / b").unit == "1");
  CHECK(worth("a * 2").unit == "V");
  CHECK(worth("a / t * t - b").value == Approx(0.4));
  CHECK(parsed("a / t").dimension() == quantity::voltage / quantity::time);
}

TEST_CASE("expression: what two readings share cancels or adds as it really does", "[expression]") {
  // GUM 5.2: the common gain acts on the difference; the own errors add in squares.
  const auto difference = worth("a - b");
  CHECK(difference.interval.standard_uncertainty == Approx(std::sqrt(0.008 * 0.008 + 2e-4)).epsilon(1e-6));
  const auto ratio = worth("a / b");
  CHECK(ratio.interval.standard_uncertainty == Approx(std::hypot(0.01 / 0.8, 1.2 * 0.01 / 0.64)).epsilon(1e-6));
  // Of a product the relative uncertainties add (GUM 5.1.6): the gain twice, the own ones once each.
  const auto product = worth("a * b");
  CHECK(product.interval.standard_uncertainty ==
        Approx(0.96 * std::sqrt(0.04 * 0.04 + std::pow(0.01 / 1.2, 2) + std::pow(0.01 / 0.8, 2))).epsilon(1e-6));
  CHECK(worth("a - a").interval.standard_uncertainty == 0);
  CHECK(worth("a + 5 V").interval.standard_uncertainty ==
        Approx(test::value_of("a").reading.interval.standard_uncertainty));
}

TEST_CASE("expression: it says what it was made of, and that it cannot pass", "[expression]") {
  CHECK(worth("(a - b) / a").inputs == std::vector<std::string>{"a", "b"});
  CHECK(parsed("a + spoilt").names() == std::vector<std::string>{"a", "spoilt"});
  CHECK_FALSE(parsed("a + spoilt").value(test::value_of).can_pass);
  CHECK(parsed("a + b").value(test::value_of).can_pass);
  CHECK(parsed("level-of-disc").value(test::value_of).reading.value == 1);
}

TEST_CASE("expression: mistakes say where, what, and what would be right", "[expression]") {
  CHECK(mistake("a + t") == "2: a voltage and a time do not go together here; use quantities of one kind");
  CHECK(mistake("mean of a, t and b") == "0: a voltage and a time do not go together here; use quantities of one kind");
  CHECK(mistake("a + ") == "4: a value is missing at the end; write a name or a quantity there");
  CHECK(mistake("") == "0: a value is missing at the end; write a name or a quantity there");
  CHECK(mistake("* a") == "0: a value is missing before '*'; write a name or a quantity there");
  CHECK(mistake("a ) b") ==
        "2: nothing may follow here, found ') b'; join two values with + - * / and a space on both sides");
  CHECK(mistake("(a + b") == "0: this parenthesis is not closed; write `)`");
  CHECK(mistake("a+b") == "0: unknown name 'a+b'; write spaces around '+'");
  CHECK(mistake("level_of_disc") == "0: unknown name 'level_of_disc'; did you mean 'level-of-disc'?");
  CHECK(mistake("difference of a") == "15: expected `and` and a second value; write `difference of A and B`");
  CHECK(mistake("a / 0") == "2: nothing can be divided by zero; divide by something else");
  CHECK(mistake("a + 3 mv") == "6: unknown unit 'mv'; write mV or MV; units are case-sensitive");
  CHECK(mistake("a * a * a * a * a * a * a * a * a * a") == "34: no quantity has such a unit; leave out factors");
  CHECK(mistake(std::string(40, '(') + "a" + std::string(40, ')')) ==
        "32: more parentheses in each other than anybody can read; ");
  CHECK(mistake(std::string(1001, 'a')) == "0: 1001 bytes are too long to be read aloud; work it out in two steps");
}

TEST_CASE("expression: a division by zero and an overflow while running name their part", "[expression]") {
  CHECK_THROWS_WITH(worth("t / (a - a)"), Catch::Equals("(t / (a - a)): ratio of \"t\" to \"(a - a)\", which is 0"));
  CHECK_THROWS_WITH(worth("t * 1e300 * 1e300"), Catch::Equals("((t * 1e300) * 1e300) is no finite number"));
  CHECK_THROWS_WITH(worth("a * 1e300 * 1e300"), Catch::StartsWith("((a * 1e300) * 1e300): "));
}

TEST_CASE("expression: a longer text may go on behind it", "[expression]") {
  const auto scanned = sequence::scan_expression("mean of a and b and t is below 3 s", test::named);
  REQUIRE(scanned);
  CHECK(scanned->end == 16);
  CHECK(scanned->value.names() == std::vector<std::string>{"a", "b"});
}
