// SPDX-License-Identifier: Apache-2.0
// UTF-8: the table of RFC 3629, section 4.
#include "core/yaml/source.hpp"

#include <catch2/catch.hpp>

#include <string>

using namespace eyelevel;
using namespace std::string_literals;

namespace {

std::string said(const std::string& text) {
  const yaml::Source source(text);
  yaml::Mistakes mistakes("f.yaml");
  const bool fine = source.check_bytes(mistakes, 10);
  CHECK(fine == mistakes.list().empty());
  std::string all;
  for (const auto& m : mistakes.list()) all += yaml::print(m) + "\n";
  return all;
}

}  // namespace

TEST_CASE("source: a byte's place is its line and its character", "[yaml]") {
  const std::string text = "a: 1\nb: µ± x\n";
  const yaml::Source source(text);
  CHECK(source.mark_of(0) == yaml::Mark{1, 1});
  CHECK(source.mark_of(text.find('b')) == yaml::Mark{2, 1});
  CHECK(source.mark_of(text.find('x')) == yaml::Mark{2, 7});
  CHECK(source.mark_of(9999) == yaml::Mark{3, 1});
}

TEST_CASE("source: bytes that are no UTF-8 are found where they stand", "[yaml]") {
  CHECK(said("a: \xB5s\n") ==
        "f.yaml:1:4: byte 0xB5 is not UTF-8; save the file as UTF-8 (signs such as ± and µ are where it shows)\n");
  CHECK(said("\xFF\xFE"
             "a\0"s) == "f.yaml:1:1: the file is UTF-16; save it as UTF-8\n");
}

TEST_CASE("source: overlong forms, surrogates and numbers beyond Unicode are no UTF-8", "[yaml]") {
  for (const std::string& bad : {"\xC0\x80"s, "\xC1\xBF"s, "\xE0\x80\x80"s, "\xED\xA0\x80"s, "\xF0\x80\x80\x80"s,
                                 "\xF4\x90\x80\x80"s, "\xF5\x80\x80\x80"s, "\xE2\x82"s, "\x80"s})
    CHECK(yaml::valid_utf8("ab" + bad) == 2);
  for (const std::string& good : {"\xC2\x80"s, "\xDF\xBF"s, "\xE0\xA0\x80"s, "\xED\x9F\xBF"s, "\xEF\xBF\xBF"s,
                                  "\xF0\x90\x80\x80"s, "\xF4\x8F\xBF\xBF"s})
    CHECK(yaml::valid_utf8(good) == good.size());
}

TEST_CASE("source: control characters are no text", "[yaml]") {
  CHECK(said("a: \0b"s) == "f.yaml:1:4: control character 0x00; this is no text file, or remove it\n");
  CHECK(said("a\rb: 1") == "f.yaml:1:2: control character 0x0D; this is no text file, or remove it\n");
  CHECK(said("a: 1\r\nb: 2\r\n").empty());
}

TEST_CASE("source: tabs are reported where they are, but not in comments", "[yaml]") {
  CHECK(said("a:\n\tb: 1\n  c:\t2\n\t# note\n") ==
        "f.yaml:2:1: a tab where the line is indented; indent with spaces\n"
        "f.yaml:3:5: a tab; write a space, or \\t inside double quotes\n");
}
