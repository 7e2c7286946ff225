// SPDX-License-Identifier: Apache-2.0
#include "core/yaml/mistake.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <tuple>

namespace eyelevel::yaml {

std::string_view name_of(Severity severity) { return severity == Severity::error ? "error" : "warning"; }

std::string print(const Mistake& mistake) {
  std::string text = fmt::format("{}:{}:{}: {}{}", mistake.file, mistake.line, mistake.column,
                                 mistake.severity == Severity::warning ? "warning: " : "", mistake.message);
  if (!mistake.suggestion.empty()) text += "; " + mistake.suggestion;
  return text;
}

void Mistakes::add(Mark at, std::string message, std::string suggestion, Severity severity) {
  list_.push_back({file_, at.line, at.column, severity, std::move(message), std::move(suggestion)});
}

void Mistakes::drop_repeated() {
  std::vector<Mistake> kept;
  std::set<std::tuple<std::string, int, int, std::string>> seen;
  for (Mistake& m : list_)
    if (seen.emplace(m.file, m.line, m.column, m.message).second) kept.push_back(std::move(m));
  list_ = std::move(kept);
}

bool Mistakes::fine() const {
  return std::none_of(list_.begin(), list_.end(), [](const Mistake& m) { return m.severity == Severity::error; });
}

}  // namespace eyelevel::yaml
