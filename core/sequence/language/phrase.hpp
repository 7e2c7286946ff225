// SPDX-License-Identifier: Apache-2.0
// Short phrases around a quantity, as they stand in steps: `500 us long`, `0.6 V to 2.6 V at the probe tip`, `64
// settled`, `at most 200`, `rising through 1.6 V`. Each function reports what is wrong and then gives an empty value.
// SI units.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/bench/kind/oscilloscope.hpp"
#include "core/quantity/text.hpp"
#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::sequence {

// A duration above zero, the word `long` may follow.
std::optional<double> read_length_s(const yaml::Node& node, yaml::Mistakes& mistakes);
// A span of volts with both ends, `at the probe tip` may follow.
std::optional<quantity::Span> read_screen(const yaml::Node& node, yaml::Mistakes& mistakes);
// A count from `least`; the words `before` may stand before it and `after` after it.
struct CountPhrase {
  std::string_view before;
  std::string_view after;
  long long least = 1;
  long long most = 100000;
};
std::optional<long long> read_count(const yaml::Node& node, const CountPhrase& phrase, yaml::Mistakes& mistakes);
// `rising through 1.6 V`, `falling through 1.6 V`.
std::optional<bench::Trigger> read_trigger(const yaml::Node& node, yaml::Mistakes& mistakes);

struct Word {
  std::string text;
  std::size_t offset = 0;
};
// The words between white space.
std::vector<Word> words_of(std::string_view text);

}  // namespace eyelevel::sequence
