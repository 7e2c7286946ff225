// SPDX-License-Identifier: Apache-2.0
// The example reads as it is written; each mistake has its message, compared in full.
#include "core/bench/test_discs.hpp"
#include "tests/support/mistakes.hpp"

#include <catch2/catch.hpp>

#include <string>

using namespace eyelevel;

namespace {

bench::TestDiscsRead read(const std::string& text) { return bench::read_test_discs(yaml::load_text("d.yaml", text)); }

std::string said(const std::string& text) { return test::printed(read(text).mistakes); }

}  // namespace

TEST_CASE("test discs: the example says what it says, and a disc is found by its mark", "[bench]") {
  const auto read = bench::read_test_discs(std::filesystem::path("examples/test-discs.yaml"));
  for (const auto& m : read.mistakes.list()) FAIL_CHECK(yaml::print(m));
  REQUIRE(read.discs.list.size() == 3);
  CHECK(read.discs.file == "examples/test-discs.yaml");
  for (const auto& disc : read.discs.list) {
    CHECK(read.discs.find(disc.mark) == &disc);
    CHECK_FALSE(disc.name.empty());
  }
  CHECK(read.discs.list[0].name == "TD-1");
  CHECK(read.discs.list[0].kind == "pressed");
  CHECK(read.discs.find("") == nullptr);
  CHECK(read.discs.find("99 tracks to 79:59:74, FFFF") == nullptr);
}

TEST_CASE("test discs: marks are taken as they are printed, and nothing else is", "[bench]") {
  const auto of = [](const std::string& mark) {
    return "test discs: [{name: A, mark: '" + mark + "', kind: pressed}]\n";
  };
  for (const char* mark : {"1 track to 00:30:00, 0000", "9 tracks to 48:03:22, 5C1E", "99 tracks to 79:59:74, FFFF"}) {
    CHECK(said(of(mark)).empty());
  }
  for (const char* mark : {"", "1 tracks", "12 tracks to 48:03:22, 5c1e", "12 tracks to 48:03:22, 5C1E and more",
                           "12 tracks to 48:03, 5C1E", "123 tracks to 48:03:22, 5C1E"}) {
    CHECK(said(of(mark)) == "d.yaml:1:30: 'mark': expected the mark of a table of contents, found '" +
                                std::string(mark) +
                                "'; write it as eyelevel analyse prints it, such as '12 tracks to 48:03:22, 5C1E'");
  }
}

TEST_CASE("test discs: what is wrong is said where it stands", "[bench]") {
  CHECK(said("test discs:\n  - {name: A, mark: '1 track to 00:30:00, 0000', kind: shiny}\n") ==
        "d.yaml:2:56: 'kind': unknown word 'shiny', expected 'pressed', 'recordable' or 'rewritable'; write kind: "
        "pressed");
  CHECK(said("test discs:\n  - {name: A, marc: x, kind: pressed}\n") ==
        "d.yaml:2:15: unknown key 'marc' in a test disc; write 'mark'\n"
        "d.yaml:2:5: 'mark' is missing in a test disc; write mark: 12 tracks to 48:03:22, 5C1E");
  CHECK(said("test discs:\n"
             "  - {name: A, mark: '1 track to 00:30:00, 0000', kind: pressed}\n"
             "  - {name: B, mark: '1 track to 00:30:00, 0000', kind: pressed}\n"
             "  - {name: A, mark: '1 track to 00:30:00, 0001', kind: pressed}\n") ==
        "d.yaml:3:21: 'B' has the mark of 'A': they cannot be told apart; name discs of one pressing once\n"
        "d.yaml:4:12: the name 'A' stands here a second time; give each disc a name of its own");
  CHECK_FALSE(said("- name: A\n").empty());
  CHECK_FALSE(said("test discs: none\n").empty());
  CHECK(read("test discs: []\n").discs.list.empty());
}
