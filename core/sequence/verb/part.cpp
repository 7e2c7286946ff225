// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/part.hpp"

#include <fmt/format.h>

namespace eyelevel::sequence {

namespace {

// A group of names with a word each, or nothing.
const yaml::Node* words(StepReader& reader, std::string_view key, std::string_view example) {
  const yaml::Node* group = reader.fields.node(key);
  if (!group) return nullptr;
  if (group->shape != yaml::Shape::map) {
    reader.report(key, fmt::format("`{}` is a group of names, found {}", key, yaml::with_article(group->shape)),
                  fmt::format("write it as in `{}`", example));
    return nullptr;
  }
  for (const yaml::Entry& e : group->entries)
    if (e.value.shape != yaml::Shape::text || e.value.text.empty()) {
      reader.report(e.value, fmt::format("'{}' has {} here", e.key, yaml::with_article(e.value.shape)),
                    fmt::format("write it as in `{}`", example));
      return nullptr;
    }
  return group;
}

ReadStep read(StepReader& reader) {
  ReadStep step;
  step.flow = Flow::in_order;
  const yaml::Node* fill_in = words(reader, "fill in", "fill in: { signal: rf, disc: pressed }");
  const yaml::Node* bring_back = words(reader, "bring back", "bring back: { level: level_before }");
  if (reader.ok()) step.inside = reader.inside.part({*reader.fields.node("part"), fill_in, bring_back});
  return step;
}

}  // namespace

void register_part(Verbs& verbs) {
  registers::Declaration declared{.name = "part",
                                  .about = "do the steps of another file",
                                  .parameters = {.name = "part", .about = "steps in another file", .keys = {}},
                                  .example =
                                      "- part: parts/level-on-disc.yaml\n  fill in: { signal: rf, disc: pressed, "
                                      "track: 2 }\n  bring back: { level: "
                                      "level_before }\n  within: 15 min\n",
                                  .sentence = "Do the steps of <part>"};
  declared.parameters.keys = {{.name = "part",
                               .required = true,
                               .type = yaml::Type::text,
                               .help = "the file, from where this one stands",
                               .example = "parts/level-on-disc.yaml"},
                              {.name = "fill in",
                               .type = yaml::Type::own,
                               .help = "what the part is to work on",
                               .example = "{ signal: rf, disc: pressed }"},
                              {.name = "bring back",
                               .type = yaml::Type::own,
                               .help = "results of the part, and what they are called here",
                               .example = "{ level: level_before }"},
                              within_key(true),
                              otherwise_key()};
  verbs.add(std::move(declared), read);
}

}  // namespace eyelevel::sequence
