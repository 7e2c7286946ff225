// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/verb.hpp"

#include <fmt/format.h>

#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

std::string_view in_words(NameKind kind) {
  switch (kind) {
    case NameKind::captures: return "captures";
    case NameKind::waveform: return "an averaged waveform";
    case NameKind::reading: return "a reading";
    case NameKind::answer: return "an answer";
    case NameKind::unknown: break;
  }
  return "something unknown";
}

namespace {

template <class List, class Name>
std::vector<std::string> names_of(const List& list, Name name) {
  std::vector<std::string> all;
  all.reserve(std::size(list));
  for (const auto& item : list) all.push_back(name(item));
  return all;
}

}  // namespace

std::vector<Step> StepReader::steps(std::string_view key) {
  const yaml::Node* list = fields.node(key);
  return list ? steps(*list, key) : std::vector<Step>();
}

NamedDimensions StepReader::readings() const {
  const auto find = [this](std::string_view name) -> std::optional<quantity::Dimension> {
    const auto it = scope.given.find(name);
    if (it == scope.given.end() || it->second.kind != NameKind::reading) return std::nullopt;
    return it->second.dimension;
  };
  const auto all = [this] {
    std::vector<std::string> names;
    for (const auto& [name, given] : scope.given)
      if (given.kind == NameKind::reading) names.push_back(name);
    return names;
  };
  return {find, all};
}

NamedAnswers StepReader::answers() const {
  return [this](std::string_view name) -> const std::vector<std::string>* {
    const auto it = scope.given.find(name);
    return it == scope.given.end() || it->second.kind != NameKind::answer ? nullptr : &it->second.choices;
  };
}

void StepReader::report(std::string_view key, const quantity::TextError& error) {
  yaml::Node at = *fields.node(key);
  for (const auto& [name, given] : scope.given)
    if (given.kind == NameKind::unknown && at.text.find(name) != std::string::npos) return;
  at.mark = at.mark_of(error.offset);
  report(at, error.message, error.suggestion);
}

void StepReader::report(const yaml::Node& at, std::string message, std::string suggestion) {
  mistakes_.add(at.mark, std::move(message), std::move(suggestion));
}

void StepReader::report(std::string_view key, std::string message, std::string suggestion) {
  const yaml::Node* at = fields.node(key);
  report(at ? *at : step_, std::move(message), std::move(suggestion));
}

const SignalPlace* StepReader::signal(const yaml::Node& at, std::string_view name) {
  if (const SignalPlace* found = scope.sequence.signal(std::string(name))) {
    roles_.insert(found->role);
    return found;
  }
  const auto known = names_of(scope.sequence.signals, [](const SignalPlace& s) { return s.name; });
  report(at, fmt::format("unknown signal '{}'", name),
         yaml::would_be_right(name, known, "name it under `signals`, as in `rf: scope channel 1`"));
  return nullptr;
}

const SignalPlace* StepReader::signal(std::string_view key) {
  const auto name = fields.text(key);
  return name ? signal(*fields.node(key), *name) : nullptr;
}

const SignalPlace* StepReader::ready_signal(std::string_view key, std::string_view kind) {
  const SignalPlace* found = signal(key);
  if (!found) return nullptr;
  if (found->kind != kind) {
    report(key,
           fmt::format("'{}' is measured by {} (kind {}), this needs kind {}", found->name, found->role, found->kind,
                       kind),
           fmt::format("name a signal of kind {}", kind));
    return nullptr;
  }
  if (!scope.is_set_up_unclear && !scope.set_up_probe.contains(found->name)) {
    report(key, fmt::format("'{}' has not been set up at this point", found->name),
           fmt::format("put `set up: {}` into the opening", found->name));
    return nullptr;
  }
  return found;
}

const RoleNeed* StepReader::role(const yaml::Node& at, std::string_view name) {
  if (const RoleNeed* found = scope.sequence.role(std::string(name))) {
    roles_.insert(found->role);
    return found;
  }
  const auto known = names_of(scope.sequence.roles, [](const RoleNeed& r) { return r.role; });
  report(at, fmt::format("unknown instrument '{}'", name),
         yaml::would_be_right(name, known, "name it under `needs`, as in `scope: { kind: oscilloscope }`"));
  return nullptr;
}

std::optional<StepReader::OfPhrase> StepReader::of_phrase(std::string_view key, std::string_view wrong,
                                                          std::string_view advice) {
  constexpr std::string_view of = " of ";
  const yaml::Node& node = *fields.node(key);
  const std::size_t at = node.text.rfind(of);
  if (at == std::string::npos || at == 0 || at + of.size() >= node.text.size()) {
    report(node, fmt::format("'{}' does not say {}", node.text, wrong), std::string(advice));
    return std::nullopt;
  }
  OfPhrase phrase{node.text.substr(0, at), node.text.substr(at + of.size()), node};
  phrase.operand_at.mark = node.mark_of(at + of.size());
  return phrase;
}

const NamedLimit* StepReader::limit(std::string_view key) {
  const auto name = fields.text(key);
  if (!name) return nullptr;
  for (const NamedLimit& l : scope.sequence.limits)
    if (l.name == *name) return &l;
  const auto known = names_of(scope.sequence.limits, [](const NamedLimit& l) { return l.name; });
  report(key, fmt::format("unknown limit '{}'", *name),
         yaml::would_be_right(*name, known, "name it under `limits`, as in `level: 1.20 V ± 10 %`"));
  return nullptr;
}

std::optional<Given> StepReader::name(const yaml::Node& at, std::string_view name, const std::vector<NameKind>& kinds) {
  const auto it = scope.given.find(name);
  const auto fits = [&](NameKind k) { return std::find(kinds.begin(), kinds.end(), k) != kinds.end(); };
  if (it != scope.given.end()) {
    uses_name(it->first);
    if (it->second.gone_at_line > 0 && fits(it->second.kind)) {
      report(at, fmt::format("'{}' is gone when the run is resumed in line {}", name, it->second.gone_at_line),
             "measure it before, only readings and answers are kept, or say `resume here` elsewhere");
      return std::nullopt;
    }
    if (it->second.kind == NameKind::unknown || fits(it->second.kind)) return it->second;
  }
  std::vector<std::string> known;
  for (const auto& [other, given] : scope.given)
    if (fits(given.kind)) known.push_back(other);
  if (const auto elsewhere = scope.given_elsewhere.find(name);
      it == scope.given.end() && elsewhere != scope.given_elsewhere.end()) {
    report(at, fmt::format("'{}' is given in line {}, but not where this step is done", name, elsewhere->second),
           "use it where it is given, or give it here too");
    return std::nullopt;
  }
  std::string wanted;
  for (const NameKind k : kinds) wanted += fmt::format("{}{}", wanted.empty() ? "" : " or ", in_words(k));
  const std::string message = it == scope.given.end() ? fmt::format("no step before this one gives '{}'", name)
                                                      : fmt::format("'{}' is {} (line {}), this needs {}", name,
                                                                    in_words(it->second.kind), it->second.line, wanted);
  report(at, message,
         yaml::would_be_right(name, known, fmt::format("name {} with `name it` in an earlier step", wanted)));
  return std::nullopt;
}

std::optional<quantity::Dimension> StepReader::reading(const yaml::Node& at, std::string_view wanted) {
  const auto found = name(at, wanted, {NameKind::reading});
  if (!found || found->kind == NameKind::unknown) return std::nullopt;
  return found->dimension;
}

yaml::Key within_key(bool required) {
  return {.name = "within",
          .required = required,
          .type = yaml::Type::quantity,
          .dimension = quantity::time,
          .help = "the longest this step may take",
          .example = "45 s"};
}

yaml::Key only_with_key() {
  return {.name = "only with",
          .type = yaml::Type::text,
          .help = "an instrument without which the step is left out",
          .example = "counter"};
}

yaml::Key name_it_key() {
  return {.name = "name it",
          .type = yaml::Type::word,
          .help = "the name of the result, for later steps and for the record",
          .example = "level_pressed"};
}

yaml::Key must_meet_key(bool required) {
  return {.name = "must meet",
          .required = required,
          .type = yaml::Type::text,
          .help = "the limit that judges the reading",
          .example = "level"};
}

yaml::Key steps_key(std::string name, std::string help) {
  return {.name = std::move(name),
          .required = true,
          .type = yaml::Type::steps,
          .help = std::move(help),
          .example = "[ { note: Level was right } ]"};
}

yaml::Key try_again_key() {
  return {.name = "try again",
          .type = yaml::Type::own,
          .help = "how often, when it did not come about or did not meet its limit, and after what time each",
          .example = "at most 2 times, after 5 s"};
}

yaml::Key resume_here_key() {
  return {.name = "resume here",
          .type = yaml::Type::yes_no,
          .help = "whether a run that was broken off may be resumed with this step",
          .example = "yes"};
}

yaml::Key otherwise_key() {
  return {.name = "otherwise",
          .type = yaml::Type::steps,
          .help =
              "steps to do when it did not come about or did not meet its limit; without them a step that breaks off "
              "stops the run",
          .example = "[ { note: The level could not be measured } ]"};
}

}  // namespace eyelevel::sequence
