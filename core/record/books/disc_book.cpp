// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/disc_book.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/record/books/names.hpp"

namespace eyelevel::record {

namespace {

void describe(DiscBook& disc, const DiscDescribed& said, base::UtcTime at) {
  if (!said.master.empty()) disc.master = said.master;
  if (!said.expires.empty()) disc.expires = said.expires;
  if (!said.level) return;
  disc.level = said.level;
  disc.level_half_width = said.level_half_width;
  disc.compared = at;
}

}  // namespace

std::vector<std::string> DiscBook::doubts(std::string_view day) const {
  std::vector<std::string> list;
  if (!expires.empty() && day > expires) list.push_back(fmt::format("it expired on {}", expires));
  if (inspections.empty())
    list.emplace_back("it was never inspected");
  else if (!inspections.back().good)
    list.push_back(fmt::format("the last inspection found: {}", shown(inspections.back().found)));
  if (!level && master != name) list.emplace_back("its level relative to the master disc is not known");
  if (level && compared && !cleaned.empty() && cleaned.back() > *compared)
    list.emplace_back("it was cleaned since its level was compared with the master disc's");
  return list;
}

std::vector<DiscBook> discs_of(std::span<const BookEntry> entries) {
  std::vector<DiscBook> list;
  const auto of = [&](const std::string& name) -> DiscBook& {
    const auto known = std::find_if(list.begin(), list.end(), [&](const DiscBook& d) { return d.name == name; });
    if (known != list.end()) return *known;
    list.emplace_back().name = name;
    return list.back();
  };
  for (const BookEntry& entry : entries) {
    if (is_a<DiscDescribed>(entry)) describe(of(entry.subject), body_of<DiscDescribed>(entry), entry.placed);
    if (is_a<DiscCleaned>(entry)) of(entry.subject).cleaned.push_back(entry.placed);
    if (!is_a<DiscInspected>(entry)) continue;
    const auto said = body_of<DiscInspected>(entry);
    of(entry.subject).inspections.push_back({entry.placed, entry.by, said.found, said.good});
  }
  return list;
}

}  // namespace eyelevel::record
