// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/table.hpp"

#include <catch2/catch.hpp>
#include <numeric>

#include "core/base/error.hpp"
#include "tests/core/diagnosis/judgement_table.hpp"

using namespace eyelevel;
using namespace eyelevel::diagnosis;

namespace {

// What is said of the table with one line changed.
std::string said_of(const std::string& line, const std::string& instead) {
  std::string text = test::judgement_text();
  const std::size_t at = text.find(line);
  REQUIRE(at != std::string::npos);
  text.replace(at, line.size(), instead);
  try {
    read_table(text);
  } catch (const base::Error& error) {
    CHECK(error.record().code == base::ErrorCode::bad_input);
    return error.record().message;
  }
  return "nothing";
}

const std::string line = "healthy             focus             judgement one 0.930  several 0.060  fails 0.010";

}  // namespace

TEST_CASE("table: each line sums to 1 and nothing is impossible", "[diagnosis]") {
  for (const Table* table : {&standard_table(), &test::judgement_table()}) {
    CHECK(std::accumulate(table->prior.begin(), table->prior.end(), 0.0) == Approx(1).margin(1e-9));
    for (const auto& rows : table->rows)
      for (const Row& row : rows) {
        CHECK(std::accumulate(row.probability.begin(), row.probability.end(), 0.0) == Approx(1).margin(1e-9));
        for (const double p : row.probability) CHECK(p > 0);
      }
  }
}

TEST_CASE("table: a mistake is told with its line", "[diagnosis]") {
  CHECK_THAT(said_of(line, "helthy focus judgement one 0.93 several 0.06 fails 0.01"),
             Catch::Contains("line ") && Catch::Contains("'helthy' is no cause"));
  CHECK_THAT(said_of(line, "healthy fokus judgement one 0.93 several 0.06 fails 0.01"),
             Catch::Contains("'fokus' is no evidence"));
  CHECK_THAT(said_of(line, "healthy focus judgement one 0.93 many 0.06 fails 0.01"),
             Catch::Contains("'many' is no value of focus"));
  CHECK_THAT(said_of(line, "healthy focus guessed one 0.93 several 0.06 fails 0.01"),
             Catch::Contains("'guessed' is no basis"));
  CHECK_THAT(said_of(line, "healthy focus judgement one 0.93 several 0.06"), Catch::Contains("'fails' is missing"));
  CHECK_THAT(said_of(line, "healthy focus judgement one 0.93 one 0.06 fails 0.01"), Catch::Contains("twice"));
  CHECK_THAT(said_of(line, "healthy focus judgement one 0.93 several 0.06 fails"),
             Catch::Contains("a value is without its probability"));
  CHECK_THAT(said_of(line, "healthy focus judgement"), Catch::Contains("cut short"));
}

TEST_CASE("table: a line that does not sum to 1, and one with a zero, are refused", "[diagnosis]") {
  CHECK_THAT(said_of(line, "healthy focus judgement one 0.93 several 0.06 fails 0.05"),
             Catch::Contains("sum to 1.0400"));
  CHECK_THAT(said_of(line, "healthy focus judgement one 0.94 several 0.06 fails 0"),
             Catch::Contains("'0' is no probability"));
  CHECK_THAT(said_of(line, "healthy focus judgement one 0.94 several 0.06 fails nan"),
             Catch::Contains("'nan' is no probability"));
}

TEST_CASE("table: a line that stands there twice, and one that is missing, are refused", "[diagnosis]") {
  CHECK_THAT(said_of(line, line + "\n" + line), Catch::Contains("focus of healthy stands there twice"));
  CHECK(said_of(line, "") == "likelihoods: focus of healthy is missing");
  CHECK_THAT(said_of("others              clip", "mirror_dirty        clip"), Catch::Contains("is missing"));
}

TEST_CASE("table: `others` stands for the causes without a line of their own", "[diagnosis]") {
  const auto clip = find_evidence("clip");
  REQUIRE(clip);
  const auto& rows = test::judgement_table().rows;
  CHECK(rows[test::cause("lens_dirty")][*clip].probability[1] == Approx(0.02));
  CHECK(rows[test::cause("ground_on_reference")][*clip].probability[1] == Approx(0.97));
}

TEST_CASE("table: an evidence counts in full unless a line gives it less weight", "[diagnosis]") {
  const Table table = read_table("weight jitter 0.5\n" + test::judgement_text());
  CHECK(table.weight[*find_evidence("jitter")] == 0.5);
  CHECK(table.weight[*find_evidence("level")] == 1);
  CHECK_THAT(said_of(line, "weight jitter 1.5\n" + line), Catch::Contains("'1.5' is no weight"));
  CHECK_THAT(said_of(line, "weight taste 0.5\n" + line), Catch::Contains("that is no weight"));
  CHECK_THAT(said_of(line, "weight jitter 0.5\nweight jitter 0.5\n" + line), Catch::Contains("twice"));
}
