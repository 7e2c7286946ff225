// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv_layout.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"

using namespace eyelevel;

namespace {

// "separator decimal columns first-line"
std::string layout_of(const std::string& text) {
  const auto layout = signal::find_csv_layout(text, {});
  const char separator = layout.dialect.separator == '\t' ? 'T' : layout.dialect.separator;
  return std::string{separator, layout.dialect.decimal} + " " + std::to_string(layout.columns) + " " +
         std::to_string(layout.first_line);
}

}  // namespace

TEST_CASE("csv layout: separator and decimal sign follow from the numbers", "[signal]") {
  CHECK(layout_of("0,1.5\n1,2.5\n") == ",. 3 1");
  CHECK(layout_of("0;1.5\n1;2.5\n") == ";. 3 1");
  CHECK(layout_of("0;1,5\n1;2\n") == ";, 3 1");
  CHECK(layout_of("0\t1,5\n1\t2,5\n") == "T, 3 1");
  CHECK(layout_of("0 1,5\n1 2,5\n") == " , 3 1");
  CHECK(layout_of("\"0,0\",\"1,5\"\n\"0,1\",\"2,5\"\n") == ",, 3 1");
  CHECK(layout_of("0,1\n1,2\n2,3\n") == ",. 3 1");
}

TEST_CASE("csv layout: one column with a decimal comma is told from two by digits and by a first number that falls",
          "[signal]") {
  CHECK(layout_of("0,512\n0,498\n-0,050\n") == ";, 1 1");
  CHECK(layout_of("0,05\n0,5\n") == ";, 1 1");
  CHECK(layout_of("0,512\n1,498\n2,050\n") == ",. 3 1");
  CHECK(layout_of("7,12\n7,13\n6,14\n") == ",. 3 1");
  CHECK(layout_of("0,1\n1,2\n2,3\n3\n4\n") == ",. 3 1");
  CHECK(layout_of("0,512\n1\n0,498\n") == ";, 1 1");
}

TEST_CASE("csv layout: headings of any kind end where most lines are numbers alone", "[signal]") {
  CHECK(layout_of("Model;X\n1000\n\nt;u\n0;1\n1;2\n2;3\n") == ";. 3 5");
  CHECK(layout_of("Length,3\nDate,2026-11-25\nTime,CH1\n0,1.5\n1,2.5\n") == ",. 3 4");
  CHECK(layout_of("Length,3,,0,1\nSource,CH1,,1,2\n,,,2,3\n,,,3,4\n") == ",. 24 1");
  const auto layout = signal::find_csv_layout("\xef\xbb\xbf# pad\n\nt;u\n0;1\n", {});
  CHECK(layout.headings == std::vector<std::string_view>{"# pad", "t;u"});
  CHECK(layout.body == "0;1\n");
  CHECK(layout.column_count() == 2);
  CHECK(layout.first_column() == 0);
}

TEST_CASE("csv layout: text without numbers is refused at the line where looking ended", "[signal]") {
  try {
    signal::find_csv_layout("a\nb\nc\n", {});
    FAIL("was read");
  } catch (const base::Error& error) {
    CHECK(error.record().where == "waveform:3");
  }
}

TEST_CASE("csv layout: numbers are not looked for beyond what 256 of the longest lines could fill", "[signal]") {
  const std::string blank(std::size_t{16} << 20, '\n');
  CHECK_THROWS_WITH(signal::find_csv_layout(blank + "0,1\n1,2\n", {}), Catch::Contains("holds no line of numbers"));
  CHECK(layout_of(blank.substr(0, 15 << 20) + "0,1\n1,2\n") == ",. 3 15728641");
}
