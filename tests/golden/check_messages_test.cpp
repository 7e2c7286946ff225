// SPDX-License-Identifier: Apache-2.0
// Every message of `check` about a sequence, as the user reads it. check_messages.txt holds the files and the messages
// that were approved: "=== NAME", the YAML (or only its steps, which are put into a whole sequence), "---", messages.
// Steps "on the bench" have a narrow limit and are held against the bench of the tests.
// After a change: EYELEVEL_RENEW_GOLDEN=1 writes the file anew; the difference is then reviewed.
#include <catch2/catch.hpp>

#include <cstdlib>
#include <fstream>
#include <sstream>

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

const std::string path = "tests/golden/check_messages.txt";

struct Case {
  std::string title;
  std::string yaml;
  std::string messages;

  bool is_on_bench() const { return title.ends_with("(steps on the bench)"); }
  bool is_steps() const { return title.ends_with("(steps)") || is_on_bench(); }
};

std::vector<Case> cases() {
  std::ifstream file(path);
  REQUIRE(file);
  std::vector<Case> all;
  bool in_messages = false;
  for (std::string line; std::getline(file, line);) {
    if (line.starts_with("=== ")) {
      all.push_back({line.substr(4), {}, {}});
      in_messages = false;
    } else if (line == "---") {
      in_messages = true;
    } else {
      (in_messages ? all.back().messages : all.back().yaml) += line + "\n";
    }
  }
  return all;
}

// Steps as they stand in the file, without indentation, inside a whole sequence.
std::string whole(const Case& c) {
  if (!c.is_steps()) return c.yaml;
  std::string indented;
  std::istringstream lines(c.yaml);
  for (std::string line; std::getline(lines, line);) indented += "  " + line + "\n";
  return c.is_on_bench() ? test::around(indented, "  narrow: 1.20 V ± 1 %\n") : test::around(indented);
}

std::string messages_of(const Case& c) {
  return c.is_on_bench() ? test::mistakes_on(test::bench_file(), whole(c)) : test::mistakes_of(whole(c));
}

}  // namespace

TEST_CASE("check: every message about a sequence is as approved", "[golden]") {
  auto all = cases();
  REQUIRE(all.size() >= 150);
  if (std::getenv("EYELEVEL_RENEW_GOLDEN")) {
    std::ofstream file(path);
    for (const Case& c : all) file << "=== " << c.title << "\n" << c.yaml << "---\n" << messages_of(c);
    return;
  }
  for (const Case& c : all) {
    INFO(c.title);
    CHECK_FALSE(c.messages.empty());
    CHECK(messages_of(c) == c.messages);
  }
}
