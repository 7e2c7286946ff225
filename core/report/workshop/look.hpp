// SPDX-License-Identifier: Apache-2.0
// What the store is asked for before the workshop's runs are looked at together: which reading, since when, against
// which references, without the runs of the check unit. For the command and for the API, which show the same.
#pragma once

#include <cstddef>
#include <optional>
#include <string>

#include "core/record/store/store.hpp"
#include "core/report/workshop/workshop.hpp"

namespace eyelevel::report::workshop {

// What is empty is not asked for; without `since` it is the last half year of runs.
struct Wish {
  std::optional<base::UtcTime> since{};
  std::optional<base::UtcTime> until{};  // runs begun before
  std::string model{};
  std::string bench{};
  std::string sequence{};
  std::string reading{};  // empty: the one that is judged most often in the newest runs
  std::string check_unit{};
};

struct Look {
  Workshop seen;
  base::UtcTime since{};
  bool is_cut = false;  // there are more readings than readings_most, the newest were taken
};

inline constexpr std::size_t readings_most = 10'000;  // more make no chart clearer, and a page slow

// Throws Error(bad_input): `since` is not before `until`; Error(not_found): there is no such reading among these runs.
Look look(record::Store& store, const Wish& wish, base::UtcTime now);

}  // namespace eyelevel::report::workshop
