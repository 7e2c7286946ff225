// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/process/codec.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"

using namespace eyelevel;
namespace process = plugin::process;
using Catch::Matchers::Contains;

TEST_CASE("protocol: a question is one line with values, readings, captures and samples", "[plugin]") {
  registers::Question question{
      .kind = registers::PartKind::verb, .name = "poke", .ask = {}, .values = {}, .results = {}};
  question.values = {{"a", 0.5}, {"b", 3LL}, {"c", true}, {"d", std::string("x\ny")}};
  question.results.emplace("r", registers::OutsideReading{.value = 1.5, .unit = "V", .standard_uncertainty = 0.25});
  CHECK(process::question_line(7, question) ==
        R"({"id":7,"ask":"verb","name":"poke","values":{"a":5E-1,"b":3,"c":true,"d":"x\ny"},)"
        R"("results":{"r":{"value":1.5E0,"unit":"V","standard_uncertainty":2.5E-1,"count":1}}})"
        "\n");
}

TEST_CASE("protocol: base64 is that of RFC 4648, samples little-endian", "[plugin]") {
  // 1.0f is 00 00 80 3F; the padding is that of RFC 4648 clause 4 for one byte beyond a group of three.
  CHECK(process::base64({1.0F}) == "AACAPw==");
  CHECK(process::base64({1.0F, -2.0F}) == "AACAPwAAAMA=");
  CHECK(process::base64({1.0F, -2.0F, 0.0F}) == "AACAPwAAAMAAAAAA");
  CHECK(process::base64({}).empty());
}

TEST_CASE("protocol: a whole answer is taken as it is", "[plugin]") {
  const auto answer = process::parse_answer(
      R"({"id":2,"reading":{"value":1,"unit":"V","standard_uncertainty":0.5,"degrees_of_freedom":9,"count":10},)"
      R"("notes":["a","b"],"numbers":{"range":5},"text":"x"})",
      2, "plugin x");
  REQUIRE(answer.reading);
  CHECK(answer.reading->value == 1);
  CHECK(answer.reading->degrees_of_freedom == 9);
  CHECK(answer.reading->count == 10);
  CHECK(answer.notes.size() == 2);
  CHECK(answer.numbers.at("range") == 5);
  CHECK(answer.text == "x");
}

TEST_CASE("protocol: what an answer may not be is refused with the reason and the line", "[plugin]") {
  const auto wrong = [](const std::string& line) {
    try {
      process::parse_answer(line, 2, "plugin x");
    } catch (const base::Error& error) {
      CHECK(error.record().where == "plugin x");
      return std::string(error.what());
    }
    return std::string("nothing");
  };
  CHECK_THAT(wrong(""), Contains("it is no JSON"));
  CHECK_THAT(wrong("[]"), Contains("it is no object"));
  CHECK_THAT(wrong("{}"), Contains("'id' is missing"));
  CHECK_THAT(wrong(R"({"id":2,"id2":2})"), Contains("'id2' is not known here"));
  CHECK_THAT(wrong(R"({"id":"2"})"), Contains("'id' is no whole number"));
  CHECK_THAT(wrong(R"({"id":2}{})"), Contains("it is no JSON"));
  CHECK_THAT(wrong(R"({"id":2,"notes":"a"})"), Contains("'notes' is no list"));
  CHECK_THAT(wrong(R"({"id":2,"notes":[1]})"), Contains("'notes' holds what is no text"));
  CHECK_THAT(wrong(R"({"id":2,"reading":{"value":"1","unit":"V","standard_uncertainty":0}})"),
             Contains("reading: 'value' is no number"));
  CHECK_THAT(wrong(R"({"id":2,"numbers":{"a":null}})"), Contains("'a' is no number"));
  CHECK_THAT(wrong(R"({"id":2,"error":{"message":"no","code":1}})"), Contains("error: 'code' is not known here"));
  std::string many = R"({"id":2,"notes":[)";
  for (int i = 0; i < 101; ++i) many += i == 0 ? "\"a\"" : ",\"a\"";
  CHECK_THAT(wrong(many + "]}"), Contains("has 101 entries; at most 100"));
}

TEST_CASE("protocol: a greeting declares parts, and a wrong one is refused by name", "[plugin]") {
  const std::string begin = R"({"id":1,"protocol":1,"name":"x","parts":[)";
  const auto hello = process::parse_hello(
      begin + R"({"kind":"verb","name":"poke","about":"a","example":"- poke: it"}]})", 1, "plugin x");
  CHECK(hello.name == "x");
  CHECK(hello.parts.size() == 1);
  CHECK_THROWS_WITH(process::parse_hello(begin + R"({"kind":"verb","name":"poke"}]})", 1, "plugin x"),
                    Contains("a part: 'about' is missing"));
  CHECK_THROWS_WITH(process::parse_hello(begin + "3]}", 1, "plugin x"), Contains("a part is no object"));
  std::string many = begin;
  for (int i = 0; i < 65; ++i) many += i == 0 ? "{}" : ",{}";
  CHECK_THROWS_WITH(process::parse_hello(many + "]}", 1, "plugin x"), Contains("at most 64 are taken"));
}
