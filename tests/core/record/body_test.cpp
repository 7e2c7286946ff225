// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/body.hpp"

#include <catch2/catch.hpp>

#include "core/record/books/unit_book.hpp"
#include "tests/core/record/store_suite.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

TEST_CASE("body of an entry: what was said comes back", "[record]") {
  const auto entry = entry_of(TakenIn{"LF-2", "skips", 1200.5}, "LF2-00417", "", {test::some_day(), "anna", "why not"});
  CHECK(entry.kind == "unit taken in");
  CHECK(entry.body == R"({"version":1,"model":"LF-2","complaint":"skips","unit_h":1200.5})");
  CHECK(is_a<TakenIn>(entry));
  CHECK_FALSE(is_a<HandedBack>(entry));
  const auto said = body_of<TakenIn>(entry);
  CHECK(said.model == "LF-2");
  CHECK(said.unit_h == 1200.5);
}

TEST_CASE("body of an entry: a field that is absent keeps the value of a fresh one", "[record]") {
  BookEntry entry = test::sample_entry(0);
  entry.body = R"({"version":1,"complaint":"skips"})";
  CHECK(body_of<TakenIn>(entry).complaint == "skips");
  CHECK_FALSE(body_of<TakenIn>(entry).unit_h);
}

TEST_CASE("body of an entry: one of a newer program, and a damaged one, are told with their number", "[record]") {
  BookEntry entry = test::sample_entry(0);
  entry.number = 12;
  entry.body = R"({"version":2})";
  CHECK_THROWS_WITH(body_of<TakenIn>(entry), Catch::Contains("entry 12 of the books (unit taken in, LF2-00417)") &&
                                                 Catch::Contains("a newer eyelevel wrote this"));
  entry.body = "{";
  CHECK_THROWS_WITH(body_of<TakenIn>(entry), Catch::Contains("entry 12"));
  entry.body = R"({"version":1,"unit_h":"many"})";
  CHECK_THROWS_WITH(body_of<TakenIn>(entry), Catch::Contains("entry 12") && Catch::Contains("\"unit_h\""));
}

TEST_CASE("body of an entry: as JSON and back nothing is lost but the number", "[record]") {
  BookEntry entry =
      entry_of(TakenIn{"LF-2", "skips", 0.1 + 0.2}, "LF2-00417", "x", {test::some_day(), "anna", "\"ä\""});
  entry.number = 7;
  entry.placed = entry.utc + std::chrono::milliseconds(3);
  const BookEntry back = entry_from_json(parse_json(text_of(to_json(entry)), "it").get_object());
  CHECK(back.number == 0);
  CHECK(back.body == entry.body);
  CHECK(back.placed == entry.placed);
  CHECK(back.concerns == "x");
  CHECK(back.because == "\"ä\"");
  auto lacking = to_json(entry);
  lacking.erase("by");
  CHECK_THROWS_WITH(entry_from_json(lacking), Catch::Contains("\"by\""));
}
