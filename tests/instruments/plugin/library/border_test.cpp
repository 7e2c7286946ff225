// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/library/border.hpp"

#include <catch2/catch.hpp>

#include <cmath>
#include <cstring>

#include "core/base/error.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
namespace library = plugin::library;
using Catch::Matchers::Contains;

namespace {

// A declaration that is right, to be spoilt.
struct Declared {
  eyelevel_parameter parameter{.size = sizeof(eyelevel_parameter),
                               .type = EYELEVEL_QUANTITY,
                               .required = 0,
                               .name = "from",
                               .unit = "V",
                               .help = "where it begins",
                               .example = "1 V",
                               .choices = nullptr};
  const eyelevel_parameter* parameters[1] = {&parameter};
  eyelevel_part part{.size = sizeof(eyelevel_part),
                     .kind = EYELEVEL_MEASURE,
                     .name = "rise time",
                     .about = "of an edge",
                     .example = "- measure: rise time of edge\n",
                     .gives = "s",
                     .takes = EYELEVEL_WAVEFORM,
                     .instrument = nullptr,
                     .parameters = parameters,
                     .parameter_count = 1,
                     .call = [](const eyelevel_question*, eyelevel_answer*) -> int32_t { return EYELEVEL_DONE; },
                     .transport = nullptr};
  const eyelevel_part* parts[1] = {&part};
  eyelevel_plugin all{.size = sizeof(eyelevel_plugin), .abi = EYELEVEL_PLUGIN_ABI, .parts = parts, .part_count = 1};

  std::string wrong() const {
    try {
      library::parts_of(&all, "plugin x");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::bad_answer);
      return error.what();
    }
    return "nothing";
  }
};

template <class Change>
std::string wrong_after(Change change) {
  Declared declared;
  change(declared);
  return declared.wrong();
}

template <class Change>
std::string wrong_answer(int32_t outcome, Change change) {
  auto answer = library::empty_answer();
  change(answer);
  try {
    library::answer_of(answer, outcome, "plugin x");
  } catch (const base::Error& error) {
    return error.what();
  }
  return "nothing";
}

}  // namespace

TEST_CASE("border: a declaration comes across as it is", "[plugin]") {
  const Declared declared;
  const auto parts = library::parts_of(&declared.all, "plugin x");
  REQUIRE(parts.size() == 1);
  CHECK(parts[0].part.declaration.name == "rise time");
  CHECK(parts[0].part.gives == quantity::time);
  CHECK(parts[0].part.takes == registers::ResultKind::waveform);
  CHECK(parts[0].part.declaration.parameters.keys[0].dimension == quantity::voltage);
}

TEST_CASE("border: a struct that says it is larger is taken, one that is smaller or absurd is refused", "[plugin]") {
  CHECK(wrong_after([](Declared& d) { d.part.size += 64; }) == "nothing");
  CHECK_THAT(wrong_after([](Declared& d) { d.part.size -= 1; }), Contains("a part says that it has"));
  CHECK_THAT(wrong_after([](Declared& d) { d.all.size = 0; }), Contains("the plugin says that it has 0 bytes"));
  CHECK_THAT(wrong_after([](Declared& d) { d.all.size = 0xFFFFFFFFU; }), Contains("4294967295 bytes"));
  CHECK_THAT(wrong_after([](Declared& d) { d.parameter.size = 4; }), Contains("a parameter says that it has 4 bytes"));
}

TEST_CASE("border: versions, counts and missing pieces that cannot be are refused", "[plugin]") {
  CHECK_THROWS_WITH(library::parts_of(nullptr, "plugin x"), Contains("does not serve version 1"));
  CHECK_THAT(wrong_after([](Declared& d) { d.all.abi = 2; }), Contains("made for version 2 of the border"));
  CHECK_THAT(wrong_after([](Declared& d) { d.all.part_count = 1000; }), Contains("it has 1000 parts; at most 64"));
  CHECK_THAT(wrong_after([](Declared& d) { d.all.parts = nullptr; }), Contains("it has 1 parts"));
  CHECK_THAT(wrong_after([](Declared& d) { d.parts[0] = nullptr; }), Contains("a part is missing"));
  CHECK_THAT(wrong_after([](Declared& d) { d.part.parameter_count = 33; }), Contains("33 parameters; at most 32"));
  CHECK_THAT(wrong_after([](Declared& d) { d.part.call = nullptr; }), Contains("'rise time' has no function to call"));
  CHECK_THAT(wrong_after([](Declared& d) { d.part.name = nullptr; }), Contains("has the name ''"));
  CHECK_THAT(wrong_after([](Declared& d) { d.part.kind = 9; }), Contains("is of kind 'number 9'"));
  CHECK_THAT(wrong_after([](Declared& d) {
               d.part.kind = EYELEVEL_TRANSPORT, d.part.takes = 0, d.part.gives = nullptr, d.part.parameter_count = 0;
             }),
             Contains("a transport is missing"));
}

TEST_CASE("border: a question carries values and results with their sizes", "[plugin]") {
  registers::Question question{
      .kind = registers::PartKind::verb, .name = "poke", .ask = {}, .values = {}, .results = {}};
  question.values = {{"a", 0.5}, {"b", 3LL}, {"c", true}, {"d", std::string("x")}};
  question.results.emplace("r", registers::OutsideReading{.value = 1.5, .unit = "V", .standard_uncertainty = 0.25});
  question.results.emplace("w", registers::OutsideWaveform{.rate_hz = 2, .volts = {1.0F, 2.0F}});
  question.results.emplace("x", registers::OutsideCaptures(3));
  const library::CQuestion c(question, 1500ms);
  const eyelevel_question& q = c.get();
  CHECK(q.size == sizeof(eyelevel_question));
  CHECK(std::string(q.name) == "poke");
  CHECK(q.within_ms == 1500);
  REQUIRE(q.given_count == 7);
  CHECK(q.given[0]->number == 0.5);
  CHECK(q.given[1]->whole == 3);
  CHECK(q.given[2]->whole == 1);
  CHECK(std::string(q.given[3]->text) == "x");
  CHECK(q.given[4]->reading->value == 1.5);
  CHECK(q.given[4]->reading->degrees_of_freedom == 0);
  CHECK(q.given[5]->waveform->samples == 2);
  CHECK(q.given[5]->waveform->volts[1] == 2.0F);
  REQUIRE(q.given[6]->capture_count == 3);
  CHECK(std::isnan(q.given[6]->captures[2]->level_v));
}

TEST_CASE("border: an answer is believed as far as it can be", "[plugin]") {
  auto answer = library::empty_answer();
  answer.has_reading = 1;
  answer.reading.value = 2;
  std::strcpy(answer.reading.unit, "V");
  answer.reading.count = 5;
  answer.number_count = 1;
  std::strcpy(answer.numbers[0].name, "range");
  answer.numbers[0].value = 20;
  const auto out = library::answer_of(answer, EYELEVEL_DONE, "plugin x");
  CHECK(out.reading->value == 2);
  CHECK(std::isinf(out.reading->degrees_of_freedom));
  CHECK(out.numbers.at("range") == 20);
  CHECK_THAT(wrong_answer(EYELEVEL_DONE, [](auto& a) { a.size = 1U << 30U; }), Contains("it lies about sizes"));
  CHECK_THAT(wrong_answer(EYELEVEL_DONE, [](auto& a) { a.number_count = 17; }), Contains("there is room for 16"));
  CHECK_THAT(wrong_answer(EYELEVEL_DONE, [](auto& a) { a.number_count = 1, a.numbers[0].value = NAN; }),
             Contains("no number"));
  CHECK_THAT(wrong_answer(5, [](auto&) {}), Contains("it returned 5"));
  CHECK_THAT(wrong_answer(EYELEVEL_FAILED, [](auto& a) { std::strcpy(a.message, "no"); }), Contains("it says: no"));
  CHECK_THAT(wrong_answer(EYELEVEL_FAILED, [](auto& a) { std::memset(a.message, 'x', sizeof a.message); }),
             Contains("it says: xxx"));
}
