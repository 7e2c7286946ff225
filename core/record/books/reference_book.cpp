// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/reference_book.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "core/metrology/judge.hpp"

namespace eyelevel::record {

namespace {

// What is said again replaces what was said of the same.
bool is_of(const Reference& known, const BookEntry& entry, const auto& said) {
  return known.model == entry.subject && known.reading == entry.concerns && known.said.disc == said.disc &&
         known.said.setting == said.setting && known.said.source == said.source;
}

bool fits(std::string_view kept, std::string_view asked) { return kept.empty() || kept == asked; }

}  // namespace

std::vector<Reference> references_of(std::span<const BookEntry> entries) {
  std::vector<Reference> list;
  for (const BookEntry& entry : entries) {
    if (is_a<ReferenceSet>(entry)) {
      auto said = body_of<ReferenceSet>(entry);
      std::erase_if(list, [&](const Reference& known) { return is_of(known, entry, said); });
      list.push_back({entry.subject, entry.concerns, entry.utc, entry.by, entry.because, std::move(said)});
    } else if (is_a<ReferenceWithdrawn>(entry)) {
      const auto said = body_of<ReferenceWithdrawn>(entry);
      std::erase_if(list, [&](const Reference& known) { return is_of(known, entry, said); });
    }
  }
  return list;
}

const Reference* standing_reference(std::span<const Reference> references, std::string_view model,
                                    std::string_view reading, std::string_view disc, std::string_view setting,
                                    std::string_view day) {
  const auto rank = [](const Reference& r) {
    return std::tuple(r.said.source == "service data", !r.said.disc.empty() + !r.said.setting.empty());
  };
  const Reference* best = nullptr;
  for (const Reference& one : references) {  // in the order in which they were said
    const bool is_asked = one.model == model && one.reading == reading && fits(one.said.disc, disc) &&
                          fits(one.said.setting, setting) && !one.is_expired(day);
    if (is_asked && (best == nullptr || rank(one) >= rank(*best))) best = &one;
  }
  return best;
}

void require_usable(const ReferenceSet& set) {
  if (set.unit.empty())
    throw base::Error(base::ErrorCode::bad_input, "a reference without a unit of measure says nothing",
                      "write its limits with their unit: '1.08 V', or '35 %' for a ratio");
  metrology::require_usable(set.limit);
}

bool contradict(const metrology::Limit& a, const metrology::Limit& b) {
  const auto above = [](const metrology::Limit& x, const metrology::Limit& y) {
    return x.at_least && y.at_most && *x.at_least > *y.at_most;
  };
  return above(a, b) || above(b, a);
}

}  // namespace eyelevel::record
