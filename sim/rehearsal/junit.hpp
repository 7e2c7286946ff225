// SPDX-License-Identifier: Apache-2.0
// The outcome of a rehearsal as a JUnit XML file, for CI: one test for each unit or expectation. There is no standard
// of it; this is what the strictest readers take (tests/data/junit/junit.xsd says which).
#pragma once

#include <map>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"

namespace eyelevel::sim {

struct JunitTest {
  std::string name;
  double seconds = 0;
  std::string failure;  // empty: passed
  std::string again;    // the line that repeats it
};

struct JunitSuite {
  std::string name;
  base::UtcTime begun{};
  std::map<std::string, std::string> properties;  // "seed"
  std::vector<JunitTest> tests;
};

std::string junit_xml(const JunitSuite& suite);

}  // namespace eyelevel::sim
