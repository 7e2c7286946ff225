// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/corrections.hpp"

#include <algorithm>

namespace eyelevel::record {

namespace {

const Corrected* newest_of(const metrology::Reading& recorded, std::span<const Correction> corrections) {
  const auto found = std::find_if(corrections.rbegin(), corrections.rend(),
                                  [&](const Correction& c) { return c.said.reading == recorded.name; });
  return found == corrections.rend() ? nullptr : &found->said;
}

}  // namespace

std::vector<Correction> corrections_of(std::span<const BookEntry> entries) {
  std::vector<Correction> list;
  for (const BookEntry& entry : entries)
    if (is_a<Corrected>(entry))
      list.push_back({entry.number, entry.utc, entry.by, entry.because, body_of<Corrected>(entry)});
  return list;
}

std::optional<metrology::Reading> standing(const metrology::Reading& recorded,
                                           std::span<const Correction> corrections) {
  const Corrected* newest = newest_of(recorded, corrections);
  if (newest == nullptr) return recorded;
  if (!newest->counts) return std::nullopt;
  metrology::Reading reading = recorded;
  if (newest->value) reading.value = *newest->value;
  if (reading.limit && reading.judgement)
    reading.judgement = metrology::judge(reading.value, reading.interval.expanded_uncertainty, *reading.limit);
  return reading;
}

bool is_corrected(const metrology::Reading& recorded, std::span<const Correction> corrections) {
  return newest_of(recorded, corrections) != nullptr;
}

}  // namespace eyelevel::record
