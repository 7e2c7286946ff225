// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/nearest.hpp"

#include <algorithm>
#include <array>
#include <vector>

namespace eyelevel::yaml {
namespace {

constexpr std::size_t longest = 64;

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

}  // namespace

std::size_t edit_distance(std::string_view a, std::string_view b) {
  a = a.substr(0, longest);
  b = b.substr(0, longest);
  std::array<std::array<std::size_t, longest + 1>, longest + 1> d{};
  for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
  for (std::size_t j = 0; j <= b.size(); ++j) d[0][j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replace = d[i - 1][j - 1] + (lower(a[i - 1]) == lower(b[j - 1]) ? 0 : 1);
      d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, replace});
      const bool swapped = i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) && lower(a[i - 2]) == lower(b[j - 1]);
      if (swapped) d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
    }
  }
  return d[a.size()][b.size()];
}

std::optional<std::string> nearest(std::string_view word, std::span<const std::string> candidates) {
  const std::size_t most = std::clamp<std::size_t>(word.size() / 3, 1, 4);
  std::optional<std::string> best;
  std::size_t best_distance = most + 1;
  for (const std::string& candidate : candidates) {
    const std::size_t distance = edit_distance(word, candidate);
    // A word of one or two letters is near to everything: then nothing but case or one letter of three may differ.
    if (distance < best_distance && distance < candidate.size()) {
      best = candidate;
      best_distance = distance;
    }
  }
  return best;
}

std::string one_of(std::span<const std::string> words) {
  std::string out;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i > 0) out += i + 1 == words.size() ? " or " : ", ";
    out += "'" + words[i] + "'";
  }
  return out;
}

std::string would_be_right(std::string_view word, std::span<const std::string> known, std::string_view when_none) {
  if (const auto near = nearest(word, known)) return "did you mean '" + *near + "'?";
  return known.empty() ? std::string(when_none) : "write " + one_of(known);
}

}  // namespace eyelevel::yaml
