// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/step_verb.hpp"

#include <fmt/format.h>

#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

const Verbs::Entry* verb_of(const yaml::Node& step, const Verbs& verbs, yaml::Mistakes& mistakes) {
  if (step.shape != yaml::Shape::map || step.entries.empty()) {
    mistakes.add(step.mark,
                 fmt::format("a step is a verb with what it does, found {}",
                             step.shape == yaml::Shape::text ? fmt::format("the text '{}'", step.text)
                                                             : std::string(yaml::with_article(step.shape))),
                 "write it as in `- note: The disc is scratched`");
    return nullptr;
  }
  const yaml::Entry& first = step.entries.front();
  if (const auto* verb = verbs.find(first.key)) return verb;
  for (const yaml::Entry& e : step.entries)
    if (const auto* verb = verbs.find(e.key)) {
      mistakes.add(first.key_mark, fmt::format("a step begins with its verb, found '{}'", first.key),
                   fmt::format("put `{}` first", verb->declaration.name));
      return nullptr;
    }
  mistakes.add(first.key_mark, fmt::format("unknown verb '{}'", first.key),
               yaml::would_be_right(first.key, verbs.names(), ""));
  return nullptr;
}

}  // namespace eyelevel::sequence
