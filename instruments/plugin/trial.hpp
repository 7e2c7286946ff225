// SPDX-License-Identifier: Apache-2.0
// The contract of plugins as a suite that their authors run: each finding is one thing that a plugin must keep, with
// what was seen when it does not. Every verb and measure is really asked, what its own example says, with made-up
// results: a verb that acts acts. A transport opens what its example names and asks it who it is; where nothing is
// there, it says so, and no more can be tried of it.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace eyelevel::plugin {

struct Finding {
  std::string what;  // "measure 'rise time': answers what its example asks"
  bool is_good = true;
  std::string seen;  // when it is not, or why no more could be tried
};

// Stops at the first thing without which nothing else can be tried.
std::vector<Finding> try_out(const std::filesystem::path& folder);

}  // namespace eyelevel::plugin
