// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/together.hpp"

#include <fmt/format.h>

namespace eyelevel::sequence {

namespace {

// No instrument can be used by two at the same time, and none of them may end the sequence.
void must_be_apart(StepReader& reader, const std::vector<Step>& all, const yaml::Node& list) {
  std::map<std::string, const Step*> user;
  for (const Step& s : all)
    for (const std::string& role : s.roles) {
      const auto [it, is_first] = user.emplace(role, &s);
      if (is_first || it->second == &s) continue;
      yaml::Node at = list;
      at.mark = {s.place.line, s.place.column};
      reader.report(at, fmt::format("'{}' is used by \"{}\" at the same time", role, it->second->place.text),
                    "do one after the other, with `in this order`");
    }
}

bool ends_all(const std::vector<Step>& steps) {
  for (const Step& s : steps)
    if (s.place.verb == "finish" || ends_all(s.inside) || ends_all(s.otherwise)) return true;
  return false;
}

ReadStep read_together(StepReader& reader) {
  ReadStep step;
  step.flow = Flow::together;
  step.inside = reader.steps("together");
  must_be_apart(reader, step.inside, *reader.fields.node("together"));
  if (ends_all(step.inside))
    reader.report("together", "one of its steps would finish the sequence while the others run",
                  "finish after it, with `if`");
  return step;
}

ReadStep read_in_this_order(StepReader& reader) {
  ReadStep step;
  step.flow = Flow::in_order;
  step.inside = reader.steps("in this order");
  return step;
}

}  // namespace

void register_together(Verbs& verbs) {
  registers::Declaration declared{
      .name = "together",
      .about = "do steps at the same time, on different instruments; it is done when all are",
      .parameters = {.name = "together", .about = "steps at the same time", .keys = {}},
      .example = "- together:\n    - note: Left\n    - note: Right\n  within: 2 min\n",
      .sentence = "At the same time"};
  declared.parameters.keys = {steps_key("together", "steps that begin at the same time"), within_key(false),
                              otherwise_key()};
  verbs.add(std::move(declared), read_together);
}

void register_in_this_order(Verbs& verbs) {
  registers::Declaration declared{
      .name = "in this order",
      .about = "several steps as one: with one time for all, or beside others in `together`",
      .parameters = {.name = "in this order", .about = "steps one after the other", .keys = {}},
      .example = "- in this order:\n    - note: First\n    - note: Second\n  within: 2 min\n",
      .sentence = "In this order"};
  declared.parameters.keys = {steps_key("in this order", "steps one after the other"), within_key(false),
                              otherwise_key()};
  verbs.add(std::move(declared), read_in_this_order);
}

}  // namespace eyelevel::sequence
