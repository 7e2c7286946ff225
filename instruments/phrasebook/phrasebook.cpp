// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/phrasebook.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <span>
#include <string_view>
#include <utility>
#include <vector>

#include "core/base/error.hpp"
#include "core/yaml/fields.hpp"
#include "instruments/phrasebook/phrase_table.hpp"
#include "instruments/phrasebook/usb_quirks.hpp"
#include "instruments/scpi/error.hpp"
#include "instruments/scpi/header_tree.hpp"
#include "instruments/scpi/message/program_builder.hpp"

namespace eyelevel::phrasebook {

bool is_phrasebook(const yaml::Node& root) { return !root.entries.empty() && root.entries.front().key == "phrasebook"; }

PhrasebookRead read_phrasebook(yaml::Document document) {
  PhrasebookRead result{{}, std::move(document.mistakes)};
  const yaml::Node& root = document.root;
  if (root.shape == yaml::Shape::nothing) return result;
  const yaml::Fields fields(root);
  Phrasebook& book = result.phrasebook;
  book.kind = fields.text("kind").value_or("");
  if (!yaml::check(root, phrasebook_table(book.kind), result.mistakes)) return result;
  book.name = fields.text("phrasebook").value_or("");
  book.about = fields.text("about").value_or("");
  book.channels = static_cast<int>(std::min(fields.count("channels").value_or(0), 64LL));
  book.usb = read_usb(root, result.mistakes);
  detail::take_phrases(root, book, result.mistakes);
  return result;
}

PhrasebookRead read_phrasebook(const std::filesystem::path& path) { return read_phrasebook(yaml::load_file(path)); }

bool means(std::string_view answer, const std::string& pattern, int number) {
  try {
    scpi::HeaderTree tree;
    tree.add(pattern, 0);
    scpi::ProgramParser parser(answer);
    scpi::ProgramUnit unit;
    if (!parser.next(unit) || unit.query || !unit.parameters.empty()) return false;
    scpi::HeaderTree::Path path;
    const auto match = tree.find(unit, path);
    if (!match.suffixes.empty() && match.suffixes.front() != number) return false;
    return !parser.next(unit);
  } catch (const scpi::CommandError&) {
    return false;  // spelled otherwise
  }
}

std::string spoken(const std::string& pattern, int number) {
  scpi::ProgramBuilder builder;
  const bool has_place = pattern.find('<') != std::string::npos;
  builder.command(pattern, std::span<const int>(&number, has_place ? 1 : 0));
  return builder.text().starts_with(':') ? builder.text().substr(1) : builder.text();
}

}  // namespace eyelevel::phrasebook
