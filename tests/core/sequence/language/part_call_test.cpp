// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/part_call.hpp"

#include <catch2/catch.hpp>

#include "core/yaml/load.hpp"

using namespace eyelevel;

namespace {

const yaml::Document part = yaml::load_text(
    "p.yaml", "part: p\nfilled in:\n  disc: { about: which }\n  track: { about: which }\ngives: [ level, ratio ]\n");

std::string printed(const yaml::Mistakes& mistakes) {
  std::string all;
  for (const auto& m : mistakes.list()) all += yaml::print(m) + "\n";
  return all;
}

}  // namespace

TEST_CASE("part call: no part is used inside itself, nor too deep", "[sequence]") {
  yaml::Node at;
  at.mark = {3, 5};
  yaml::Mistakes mistakes("s.yaml");
  CHECK(sequence::may_be_used(at, "a.yaml", "s.yaml", {"b.yaml"}, mistakes));
  CHECK_FALSE(sequence::may_be_used(at, "s.yaml", "s.yaml", {}, mistakes));
  CHECK_FALSE(sequence::may_be_used(at, "b.yaml", "s.yaml", {"b.yaml"}, mistakes));
  CHECK_FALSE(sequence::may_be_used(at, "a.yaml", "s.yaml", {"1", "2", "3", "4", "5", "6", "7", "8"}, mistakes));
  CHECK(printed(mistakes) ==
        "s.yaml:3:5: the part 's.yaml' would use itself; let no part use one that uses it\n"
        "s.yaml:3:5: the part 'b.yaml' would use itself; let no part use one that uses it\n"
        "s.yaml:3:5: more than 8 parts inside one another; put their steps into fewer parts\n");
}

TEST_CASE("part call: what is filled in is what the part wants, with asked values put in", "[sequence]") {
  const auto call = yaml::load_text("s.yaml", "part: p.yaml\nfill in: { disc: pressed, trak: which }\n");
  sequence::Asked which{
      .name = "which", .about = {}, .usual = {}, .allowed_text = {}, .allowed = {}, .dimension = {}, .text = "2"};
  yaml::Mistakes mistakes("s.yaml");
  const auto values = sequence::fill_ins({*call.root.find("part"), call.root.find("fill in")}, part, {which}, mistakes);
  CHECK(values == sequence::FillIns{{"disc", "pressed"}, {"track", ""}});
  CHECK(printed(mistakes) ==
        "s.yaml:2:27: the part has no 'trak' to be filled in; did you mean 'track'?\n"
        "s.yaml:1:7: the part wants 'track' filled in; write `fill in: { track: ... }`\n");
  const auto right = yaml::load_text("s.yaml", "part: p.yaml\nfill in: { disc: pressed, track: which }\n");
  CHECK(
      sequence::fill_ins({*right.root.find("part"), right.root.find("fill in")}, part, {which}, mistakes).at("track") ==
      "2");
}

TEST_CASE("part call: each result that a part says it gives is given by a step of it", "[sequence]") {
  yaml::Mistakes mistakes("p.yaml");
  const auto gives = sequence::results_of(part, {{"level", {}}, {"ratios", {}}}, mistakes);
  CHECK(gives == std::vector<std::string>{"level", "ratio"});
  CHECK(printed(mistakes) == "p.yaml:5:17: no step of the part gives 'ratio'; did you mean 'ratios'?\n");
}
