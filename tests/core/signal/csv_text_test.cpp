// SPDX-License-Identifier: Apache-2.0
#include "core/signal/csv_text.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

using namespace eyelevel;

namespace {

std::vector<std::string> fields(std::string_view line, char separator) {
  signal::CsvFields split;
  split.split(line, separator);
  return {split.text.begin(), split.text.begin() + static_cast<std::ptrdiff_t>(split.count)};
}

std::vector<std::string> lines(std::string_view text) {
  std::vector<std::string> out;
  signal::CsvLines all(text);
  for (std::string_view line; all.next(line);) out.emplace_back(line);
  return out;
}

using Texts = std::vector<std::string>;

}  // namespace

TEST_CASE("csv text: lines end with LF, CR LF or CR alone, and the last with nothing", "[signal]") {
  CHECK(lines("a\nb\n\nc") == Texts{"a", "b", "", "c"});
  CHECK(lines("a\r\nb\r\n") == Texts{"a", "b"});
  CHECK(lines("a\rb\r") == Texts{"a", "b"});
  CHECK(lines("").empty());
}

TEST_CASE("csv text: a line longer than 64 KiB comes in pieces of one number", "[signal]") {
  const std::string text = "a\n" + std::string(signal::CsvLines::longest + 1, 'x') + "\nb\n";
  signal::CsvLines all(text);
  std::vector<std::pair<std::size_t, std::size_t>> seen;  // number, length
  for (std::string_view line; all.next(line);) seen.emplace_back(all.number(), line.size());
  CHECK(seen == decltype(seen){{1, 1}, {2, signal::CsvLines::longest}, {2, 1}, {3, 1}});
}

TEST_CASE("csv text: fields lose blanks and quotes, and a separator inside quotes is text", "[signal]") {
  CHECK(fields("a; b ;c", ';') == Texts{"a", "b", "c"});
  CHECK(fields("\"0,5\", \"1,2\"", ',') == Texts{"0,5", "1,2"});
  CHECK(fields(",,x,", ',') == Texts{"", "", "x"});
  CHECK(fields("1   2\t3", ' ') == Texts{"1", "2\t3"});
  CHECK(fields("\"open,1", ',') == Texts{"\"open,1"});
  CHECK(fields("", ',') == Texts{""});
}

TEST_CASE("csv text: more fields than are told apart stay in the last one", "[signal]") {
  std::string line = "0";
  for (int i = 1; i < 70; ++i) line += ",1";
  signal::CsvFields split;
  split.split(line, ',');
  CHECK(split.count == signal::CsvFields::most);
  CHECK(split.has_text('.'));
}

TEST_CASE("csv text: numbers are read with the sign that is asked for, and never by the locale", "[signal]") {
  CHECK(signal::number_in("1.5", '.') == 1.5);
  CHECK(signal::number_in("+2E-3", '.') == 2e-3);
  CHECK(signal::number_in("1,5e1", ',') == 15.0);
  CHECK_FALSE(signal::number_in("1,5", '.'));
  CHECK_FALSE(signal::number_in("1.5", ','));
  CHECK_FALSE(signal::number_in("1.234,5", ','));
  CHECK_FALSE(signal::number_in("", '.'));
  CHECK_FALSE(signal::number_in("+-1", '.'));
  CHECK_FALSE(signal::number_in("1 V", '.'));
}

TEST_CASE("csv text: a number too small for a double is 0, one too large is infinite", "[signal]") {
  CHECK(signal::number_in("1e-999", '.') == 0.0);
  CHECK(std::isinf(*signal::number_in("1e999", '.')));
  CHECK(std::isinf(*signal::number_in("-1e999", '.')));
}

TEST_CASE("csv text: a heading's separator is told by the line itself", "[signal]") {
  CHECK(signal::separator_in("a;b,c") == ';');
  CHECK(signal::separator_in("a,b") == ',');
  CHECK(signal::separator_in("a\tb") == '\t');
  CHECK(signal::separator_in("a b") == ' ');
}
