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
