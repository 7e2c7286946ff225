// SPDX-License-Identifier: Apache-2.0
// The nearest right word, by edit distance with neighbouring letters swapped counting one (optimal string alignment),
// without regard to case. Cost: product of the lengths, for each candidate; words are cut at 64 bytes.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace eyelevel::yaml {

std::size_t edit_distance(std::string_view a, std::string_view b);
// The candidate with the least distance, if that is at most a third of the word's length (at least 1, at most 4).
std::optional<std::string> nearest(std::string_view word, std::span<const std::string> candidates);
// "'a', 'b' or 'c'": a choice in words.
std::string one_of(std::span<const std::string> words);
// What to write instead of a word that is unknown: "did you mean 'rf'?", or all the words known, or `when_none`.
std::string would_be_right(std::string_view word, std::span<const std::string> known, std::string_view when_none);

}  // namespace eyelevel::yaml
