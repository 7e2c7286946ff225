// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/unused.hpp"

#include <fmt/format.h>

#include "core/sequence/language/asked.hpp"

namespace eyelevel::sequence {

namespace {

void add_words(std::string_view text, std::set<std::string>& words) {
  for (std::size_t at = 0; at < text.size();) {
    std::size_t end = at;
    while (end < text.size() && is_of_word(text[end])) ++end;
    if (end > at) words.emplace(text.substr(at, end - at));
    at = end + 1;
  }
}

}  // namespace

void add_words(const yaml::Node& node, std::set<std::string>& words) {
  add_words(node.text, words);
  for (const yaml::Node& item : node.items) add_words(item, words);
  for (const yaml::Entry& e : node.entries) add_words(e.value, words);
}

void report_unused(const Sequence& sequence, const std::set<std::string>& words, yaml::Mistakes& mistakes) {
  const auto unused = [&](const std::string& name, yaml::Mark at, std::string what, std::string advice) {
    if (!words.contains(name)) mistakes.add(at, std::move(what), std::move(advice), yaml::Severity::warning);
  };
  for (const NamedLimit& limit : sequence.limits)
    unused(limit.name, {limit.line, limit.column}, fmt::format("nothing is held against the limit '{}'", limit.name),
           fmt::format("write `must meet: {}` where it is to judge, or leave it out", limit.name));
  for (const SignalPlace& signal : sequence.signals)
    unused(signal.name, {signal.line, signal.column}, fmt::format("no step uses the signal '{}'", signal.name),
           "leave it out, or set it up");
  for (const Asked& asked : sequence.asked)
    unused(asked.name, {asked.line, asked.column}, fmt::format("nothing depends on '{}', which is asked", asked.name),
           "leave it out, or name it in a limit or a step");
}

void report_unused(const std::vector<NamedResult>& results, const std::set<std::string>& used,
                   yaml::Mistakes& mistakes) {
  for (const NamedResult& result : results) {
    const NameKind kind = result.given.kind;
    if ((kind != NameKind::captures && kind != NameKind::waveform) || used.contains(result.unique_name)) continue;
    yaml::Mistakes there(result.given.file.empty() ? mistakes.file() : result.given.file);
    there.add({result.given.line, result.given.column}, fmt::format("nothing is made of '{}'", result.name),
              "measure something of it, or leave the step out", yaml::Severity::warning);
    mistakes.take(there.list());
  }
}

}  // namespace eyelevel::sequence
