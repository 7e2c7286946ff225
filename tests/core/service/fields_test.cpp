// SPDX-License-Identifier: Apache-2.0
#include "core/service/fields.hpp"

#include <boost/json.hpp>
#include <catch2/catch.hpp>

#include "core/service/http/problem.hpp"

using namespace eyelevel;
using service::Fields;

namespace {

boost::json::object object(const char* text) { return boost::json::parse(text).as_object(); }

}  // namespace

TEST_CASE("fields: texts, whole numbers and values come as they were sent", "[service]") {
  const auto body = object(R"({"bench":"one","priority":-3,"set":{"target":"1.20 V"}})");
  const Fields fields(body, {"bench", "priority", "set", "by"});
  CHECK(fields.text("bench") == "one");
  CHECK(fields.whole("priority") == -3);
  CHECK(fields.text_or("by", "nobody") == "nobody");
  CHECK(fields.whole_or("other", 7) == 7);
  REQUIRE(fields.given("set").size() == 1);
  CHECK(fields.given("set")[0].value == "1.20 V");
}

TEST_CASE("fields: what is unknown, missing or of another type is named", "[service]") {
  const auto body = object(R"({"bnch":"one"})");
  CHECK_THROWS_WITH(Fields(body, {"bench"}), Catch::Contains("\"bnch\""));
  const auto wrong = object(R"({"bench":1,"priority":1.5,"set":["a"],"by":"a\u0000b"})");
  const Fields fields(wrong, {"bench", "priority", "set", "by"});
  CHECK_THROWS_WITH(fields.text("bench"), Catch::Contains("a text"));
  CHECK_THROWS_WITH(fields.whole("priority"), Catch::Contains("a whole number"));
  CHECK_THROWS_WITH(fields.given("set"), Catch::Contains("an object of texts"));
  CHECK_THROWS_WITH(fields.text("by"), Catch::Contains("NUL"));
  CHECK_THROWS_WITH(fields.text("serial"), Catch::Contains("\"serial\" is missing"));
}

TEST_CASE("fields: a number may be whole or not, and a list of texts may be missing", "[service]") {
  const auto body = object(R"({"half": 0.5, "two": 2, "names": ["a", "b"], "text": "x"})");
  const Fields fields(body, {"half", "two", "names", "text", "none"});
  CHECK(fields.number_or("half", 0) == 0.5);
  CHECK(fields.number_or("two", 0) == 2);
  CHECK(fields.number_or("none", 0.25) == 0.25);
  CHECK_THROWS_AS(fields.number_or("text", 0), service::http::Problem);
  CHECK(fields.texts_or_none("names") == std::vector<std::string>{"a", "b"});
  CHECK(fields.texts_or_none("none").empty());
}
