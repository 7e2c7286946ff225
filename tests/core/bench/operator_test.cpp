// SPDX-License-Identifier: Apache-2.0
#include "core/bench/operator.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;
using bench::AnswerKind;
using bench::Question;

namespace {

std::string said(const Question& question, std::string_view answer) {
  const auto understood = bench::understood(question, answer);
  return understood ? *understood : understood.error().message + "; " + understood.error().suggestion;
}

const Question value{.text = "What does the meter show?",
                     .kind = AnswerKind::value,
                     .allowed = *quantity::parse_span("0 V to 5 V"),
                     .allowed_text = "0 V to 5 V"};
const Question choice{.text = "Which disc?", .kind = AnswerKind::one_of, .choices = {"pressed", "recordable"}};

}  // namespace

TEST_CASE("operator: anything says that a deed is done", "[bench]") {
  CHECK(said({.text = "Insert the disc"}, "done") == "done");
  CHECK(said({.text = "Insert the disc"}, "there is no disc") == "there is no disc");
}

TEST_CASE("operator: yes and no are understood by their first letter and in capitals", "[bench]") {
  const Question question{.text = "Is the lens clean?", .kind = AnswerKind::yes_or_no};
  CHECK(said(question, "Y") == "yes");
  CHECK(said(question, " no ") == "no");
  CHECK(said(question, "perhaps") == "'perhaps' is no answer to it; answer yes or no");
  CHECK(said(question, "") == "nothing was answered; answer yes or no");
}

TEST_CASE("operator: a choice is understood by its name or its number", "[bench]") {
  CHECK(said(choice, "Recordable") == "recordable");
  CHECK(said(choice, "1") == "pressed");
  CHECK(said(choice, "3") == "'3' is no answer to it; answer 'pressed' or 'recordable'");
}

TEST_CASE("operator: a value has its unit and lies in what is allowed", "[bench]") {
  CHECK(said(value, "1.23 V") == "1.23 V");
  CHECK(said(value, "7 V") == "7 V is not allowed; it must be 0 V to 5 V");
  CHECK(said(value, "7 s").find("expected") != std::string::npos);
  CHECK(said(value, "1.23").find("unit") != std::string::npos);
}

TEST_CASE("operator: a code is a line that is not empty", "[bench]") {
  const Question question{.text = "Scan the label", .kind = AnswerKind::code};
  CHECK(said(question, "LFP-0042\r") == "LFP-0042");
  CHECK(said(question, " ") == "nothing was answered; answer a code");
  CHECK(said(question, std::string(201, 'x')) == "201 characters are no code; scan it once");
}
