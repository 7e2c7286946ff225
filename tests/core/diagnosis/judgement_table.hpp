// SPDX-License-Identifier: Apache-2.0
// The table as it stood before anything was counted (tests/data/diagnosis_judgement.txt): common practice.
#pragma once

#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>
#include <string>

#include "core/diagnosis/names.hpp"
#include "core/diagnosis/table.hpp"

namespace eyelevel::test {

inline std::string judgement_text() {
  std::ifstream file("tests/data/diagnosis_judgement.txt");
  REQUIRE(file);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

inline const diagnosis::Table& judgement_table() {
  static const diagnosis::Table table = diagnosis::read_table(judgement_text());
  return table;
}

inline std::size_t cause(std::string_view id) {
  const auto found = diagnosis::find_cause(id);
  REQUIRE(found);
  return *found;
}

}  // namespace eyelevel::test
