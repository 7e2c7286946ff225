// SPDX-License-Identifier: Apache-2.0
// `asked at start`: values that somebody gives before a run begins, with what is usual and what is allowed.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "core/quantity/text.hpp"
#include "core/sequence/language/sequence.hpp"
#include "core/yaml/key_table.hpp"
#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::sequence {

yaml::KeyTable asked_table();

// `set`: values given from outside, by name. What is not set takes its usual value, or an end of what is allowed.
std::vector<Asked> read_asked(const yaml::Node* node, const std::map<std::string, std::string>& set,
                              yaml::Mistakes& mistakes);

// The value in SI units: of the right dimension and allowed, or what is wrong with it.
quantity::Parsed<double> allowed_value(const Asked& asked, std::string_view text);

// Whether it may stand in a name.
bool is_of_word(char c);
// The text with each name of `asked` that stands in it as a word replaced by its value.
std::string with_values(std::string_view text, const std::vector<Asked>& asked);

// Of a step: where a quantity is wanted and the name of what was asked stands, its value.
yaml::Node with_asked_values(const yaml::Node& step, const yaml::KeyTable& parameters, const std::vector<Asked>& asked);

}  // namespace eyelevel::sequence
