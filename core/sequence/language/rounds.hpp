// SPDX-License-Identifier: Apache-2.0
// How often: `at most 6 times`, `6 times`, `every 1 min for 8 h`; and `at most 2 times, after 5 s`. Each function
// reports what is wrong and then gives an empty value.
#pragma once

#include <optional>

#include "core/sequence/language/sequence.hpp"
#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::sequence {

struct RoundsPhrase {
  Rounds rounds;
  bool is_at_most = false;  // something must end it before
};
std::optional<RoundsPhrase> read_rounds(const yaml::Node& node, yaml::Mistakes& mistakes);
std::optional<TryAgain> read_try_again(const yaml::Node& node, yaml::Mistakes& mistakes);

}  // namespace eyelevel::sequence
