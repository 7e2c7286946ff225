// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/part.hpp"

#include <fmt/format.h>

namespace eyelevel::sequence {

namespace {

yaml::KeyTable make_part_table() {
  using yaml::Type;
  yaml::KeyTable fill_in{.name = "what is filled in", .about = "a word or text that the caller gives", .keys = {}};
  fill_in.keys = {{.name = "about",
                   .required = true,
                   .type = Type::text,
                   .help = "what it is, in one line",
                   .example = "which disc, for the prompt"}};
  yaml::KeyTable table{.name = "a part", .about = "Steps that several sequences use", .keys = {}};
  table.keys = {
      {.name = "part", .required = true, .type = Type::word, .help = "its name", .example = "level-on-disc"},
      {.name = "about",
       .required = true,
       .type = Type::text,
       .help = "what it is for, in one line",
       .example = "RF level on one disc"},
      {.name = "filled in",
       .type = Type::named,
       .help = "what its caller fills in; `<NAME>` in its texts stands for it",
       .example = "disc: { about: which disc }",
       .inside = std::make_shared<const yaml::KeyTable>(std::move(fill_in))},
      {.name = "gives", .type = Type::texts, .help = "results its caller may bring back", .example = "[ level ]"},
      {.name = "steps",
       .required = true,
       .type = Type::steps,
       .help = "steps that do the work",
       .example = "[ { measure: ... } ]"}};
  return table;
}

}  // namespace

const yaml::KeyTable& part_table() {
  static const yaml::KeyTable table = make_part_table();
  return table;
}

std::optional<std::string> part_path(const yaml::Node& written, const std::string& from, const std::string& top,
                                     yaml::Mistakes& mistakes) {
  namespace fs = std::filesystem;
  const fs::path path(written.text);
  if (path.extension() != ".yaml" && path.extension() != ".yml") {
    mistakes.add(written.mark, fmt::format("'{}' is no part: its name does not end in .yaml", written.text),
                 "name a file such as `parts/level-on-disc.yaml`");
    return std::nullopt;
  }
  const fs::path folder = fs::path(top).parent_path().lexically_normal();
  const fs::path full = (fs::path(from).parent_path() / path).lexically_normal();
  const fs::path inside = full.lexically_relative(folder.empty() ? fs::path(".") : folder);
  if (path.is_absolute() || inside.empty() || *inside.begin() == "..") {
    mistakes.add(written.mark, fmt::format("'{}' leaves the folder of the sequence", written.text),
                 "put the part into that folder or one below it");
    return std::nullopt;
  }
  return full.string();
}

}  // namespace eyelevel::sequence
