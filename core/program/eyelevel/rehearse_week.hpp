// SPDX-License-Identifier: Apache-2.0
// `eyelevel rehearse --week FILE`: days of a workshop, played into a store.
#pragma once

#include <string>
#include <vector>

namespace eyelevel::program {

struct WeekWish {
  std::string file;
  std::string store;  // must hold no runs
  std::vector<std::string> plugins;
  bool as_json = false;
};

// 0, or 3 when stopped by request. Throws base::Error(bad_input) after printing every mistake of the file, and when
// the store holds runs already: played and real ones are never mixed.
int rehearse_week(const WeekWish& wish);

}  // namespace eyelevel::program
