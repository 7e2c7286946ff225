// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/rows.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel::record;

TEST_CASE("rows: only what was asked for stands in the condition of a listing", "[record]") {
  CHECK(runs_query({}).sql.find("$1") == std::string::npos);
  RunQuery query;
  query.sequence = "drift";
  query.bench = "two";
  query.at_most = 7;
  const Query list = runs_query(query);
  CHECK(list.values == std::vector<std::string>{"drift", "two"});
  CHECK_THAT(list.sql, Catch::Contains("sequence = $1 AND bench = $2") && Catch::EndsWith("LIMIT 7"));
}

// In the order of first appearance, which is how SQLite numbers them.
TEST_CASE("rows: the values of an entry are numbered as they appear", "[record]") {
  BookEntry entry;
  entry.kind = "disc cleaned";
  for (const Query& query :
       {note_query(entry), bring_entry_query(entry), book_query({"disc cleaned", "TD-1", "LF-2"})}) {
    CAPTURE(query.sql);
    std::size_t at = 0;
    for (std::size_t n = 1; n <= query.values.size(); ++n) {
      const std::size_t found = query.sql.find("$" + std::to_string(n));
      CHECK(found != std::string::npos);
      CHECK(found >= at);
      at = found;
    }
    CHECK(query.sql.find("$" + std::to_string(query.values.size() + 1)) == std::string::npos);
  }
}

TEST_CASE("rows: the name of a run is a day and a number, and nothing else", "[record]") {
  CHECK(run_number("2030-01-07-30").day == "2030-01-07");
  CHECK(run_number("2030-01-07-30").number == 30);
  for (const char* text : {"", "2030-01-07", "2030-01-07-", "2030-01-07-0", "2030-01-07-3x", "2030-01-07_3", "last"}) {
    CAPTURE(text);
    CHECK_THROWS_WITH(run_number(text), Catch::Contains("is no run: expected a day and a number"));
  }
}

TEST_CASE("rows: a run that is not closed has no end and no judgement", "[record]") {
  const RunSummary open = summary_from({"2030-01-07-3", "2030-01-07T08:00:00.000Z", "", "drift", "LF2-00417", "LF-2",
                                        "one", "", "", "eyelevel 1", "", ""});
  CHECK_FALSE(open.closed);
  CHECK_FALSE(open.judgement);
  const RunSummary closed =
      summary_from({"2030-01-07-3", "2030-01-07T08:00:00.000Z", "2030-01-07T08:00:02.000Z", "drift", "LF2-00417",
                    "LF-2", "one", "finished", "fail", "eyelevel 1", "", "anna"});
  CHECK(closed.closed == closed.begun + std::chrono::seconds(2));
  CHECK(closed.judgement == eyelevel::metrology::Judgement::fail);
}

TEST_CASE("rows: a text is kept as UTF-8 without NUL", "[record]") {
  CHECK(kept_text("1 \xC2\xB5V") == "1 \xC2\xB5V");
  CHECK(kept_text(std::string("a\0b\xFF", 4)) ==
        "a\xEF\xBF\xBD"
        "b\xEF\xBF\xBD");
}
