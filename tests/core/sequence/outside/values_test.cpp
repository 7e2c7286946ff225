// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/outside/values.hpp"

#include <catch2/catch.hpp>

#include "core/yaml/load.hpp"

using namespace eyelevel;

TEST_CASE("outside: values are handed over in SI units, by their type", "[sequence]") {
  const yaml::KeyTable own{
      "a",
      "",
      {{.name = "q", .type = yaml::Type::quantity, .dimension = quantity::time, .help = {}, .example = {}},
       {.name = "n", .type = yaml::Type::count, .help = {}, .example = {}},
       {.name = "y", .type = yaml::Type::yes_no, .help = {}, .example = {}},
       {.name = "t", .help = {}, .example = {}},
       {.name = "absent", .help = {}, .example = {}}}};
  const auto document = yaml::load_text("a.yaml", "q: 20 ms\nn: 3\ny: yes\nt: 010\nother: x\n");
  const auto values = sequence::values_of(document.root, own);
  CHECK(values.size() == 4);
  CHECK(std::get<double>(values.at("q")) == Approx(0.02));
  CHECK(std::get<long long>(values.at("n")) == 3);
  CHECK(std::get<bool>(values.at("y")));
  CHECK(std::get<std::string>(values.at("t")) == "010");
}

TEST_CASE("outside: only plain values can be handed over", "[sequence]") {
  CHECK(sequence::can_be_handed_out(yaml::Type::quantity));
  CHECK(sequence::can_be_handed_out(yaml::Type::word));
  CHECK_FALSE(sequence::can_be_handed_out(yaml::Type::group));
  CHECK_FALSE(sequence::can_be_handed_out(yaml::Type::span));
}
