// SPDX-License-Identifier: Apache-2.0
#include "sim/trouble/trouble.hpp"

#include <fmt/format.h>

namespace eyelevel::sim {
namespace {

std::string codes_in_words(const std::vector<base::ErrorCode>& codes) {
  std::string words;
  for (const base::ErrorCode code : codes) words += (words.empty() ? "" : " or ") + std::string(base::name_of(code));
  return words;
}

}  // namespace

std::string in_words(const Demand& demand) {
  const std::string codes = codes_in_words(demand.codes);
  std::string words;
  switch (demand.ending) {
    case Demand::Ending::by_truth:
      words = "what is measured is judged as the physics has it";
      if (!codes.empty()) words += ", or the run stops with " + codes;
      break;
    case Demand::Ending::stopped: words = "the run stops with " + codes; break;
    case Demand::Ending::no_eye: words = "no eye is measured; who looks for one stops with " + codes; break;
    case Demand::Ending::true_pass: words = "what passes is true of the player"; break;
    case Demand::Ending::not_pass: words = "nothing passes"; break;
    case Demand::Ending::any: words = "the run ends with closed instruments and a record that reads"; break;
  }
  if (!demand.shown_by.empty())
    words += fmt::format("; a sequence that looks at {} shows it", fmt::join(demand.shown_by, " or "));
  return words;
}

void add(Troubles& troubles, const std::vector<TroubleRow>& rows) {
  for (const TroubleRow& row : rows)
    troubles.add({.name = row.name,
                  .about = row.about,
                  .parameters = {},
                  .example = fmt::format("eyelevel rehearse SEQUENCE --trouble '{}'", row.name)},
                 {row.apply, row.demand, row.told, row.words});
}

Troubles ready_troubles() {
  Troubles troubles("trouble");
  register_pickup_troubles(troubles);
  register_disc_troubles(troubles);
  register_person_troubles(troubles);
  register_wiring_troubles(troubles);
  register_instrument_troubles(troubles);
  register_bench_troubles(troubles);
  register_house_troubles(troubles);
  return troubles;
}

}  // namespace eyelevel::sim
