// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/head.hpp"

#include <fmt/format.h>

#include "core/bench/bench_file.hpp"
#include "core/quantity/text.hpp"
#include "core/sequence/language/asked.hpp"
#include "core/sequence/language/phrase.hpp"
#include "core/yaml/key_table.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

class Head {
 public:
  Head(Scope& scope, yaml::Mistakes& mistakes) : scope_(scope), sequence_(scope.sequence), mistakes_(mistakes) {}

  void roles(const yaml::Node* node, bool required) {
    if (!node || node->shape != yaml::Shape::map) return;
    for (const yaml::Entry& e : node->entries) {
      if (e.value.shape != yaml::Shape::map) continue;  // reported by the table
      const yaml::Fields fields(e.value);
      RoleNeed need{.role = e.key,
                    .kind = fields.text("kind").value_or(""),
                    .required = required,
                    .rate_hz = {},
                    .points = {},
                    .line = e.key_mark.line,
                    .column = e.key_mark.column};
      if (const RoleNeed* first = sequence_.role(e.key))
        mistakes_.add(e.key_mark, fmt::format("'{}' is already named in line {}", e.key, first->line),
                      "give it another name");
      need.rate_hz = at_least(e.value, "sample rate", quantity::sample_rate);
      need.points = at_least(e.value, "memory", quantity::samples);
      if (bench::is_kind(need.kind) && need.kind != "oscilloscope" && (need.rate_hz || need.points))
        mistakes_.add(e.value.mark, fmt::format("a {} has neither sample rate nor memory", need.kind),
                      "leave them out, or write `kind: oscilloscope`");
      sequence_.roles.push_back(std::move(need));
    }
  }

  std::optional<double> at_least(const yaml::Node& role, std::string_view key, quantity::Dimension dimension) {
    const auto span = yaml::Fields(role).span(key, dimension);
    if (!span) return std::nullopt;
    if (span->low && !span->high && *span->low > 0) return span->low;
    const yaml::Node& node = *role.find(key);
    mistakes_.add(node.mark, fmt::format("a need is a least value, found '{}'", node.text),
                  fmt::format("write `at least {}`", quantity::example_of(dimension)));
    return std::nullopt;
  }

  bool is_group(const yaml::Node* node, std::string_view key, std::string_view example) {
    if (!node) return false;
    if (node->shape == yaml::Shape::map) return true;
    mistakes_.add(node->mark, fmt::format("`{}` is a group of names, found {}", key, yaml::with_article(node->shape)),
                  fmt::format("write names below it, as in `{}`", example));
    return false;
  }

  bool is_text(const yaml::Entry& e, std::string_view example) {
    if (e.value.shape == yaml::Shape::text) return true;
    mistakes_.add(e.value.mark, fmt::format("'{}' has {} here", e.key, yaml::with_article(e.value.shape)),
                  fmt::format("write a text, as in `{}`", example));
    return false;
  }

  void signals(const yaml::Node* node) {
    constexpr std::string_view example = "rf: scope channel 1";
    if (!is_group(node, "signals", example)) return;
    for (const yaml::Entry& e : node->entries) {
      if (!is_new_name(scope_, e.key, e.key_mark, mistakes_) || !is_text(e, example)) continue;
      const auto words = words_of(e.value.text);
      const RoleNeed* role = words.empty() ? nullptr : sequence_.role(words[0].text);
      if (!role) {
        std::vector<std::string> known;
        known.reserve(sequence_.roles.size());
        for (const RoleNeed& r : sequence_.roles) known.push_back(r.role);
        const std::string word = words.empty() ? std::string() : words[0].text;
        mistakes_.add(
            e.value.mark, fmt::format("unknown instrument '{}'", word),
            yaml::would_be_right(word, known, "name it under `needs`, as in `scope: { kind: oscilloscope }`"));
        continue;
      }
      SignalPlace place{e.key, role->role, role->kind, 0, e.key_mark.line, e.key_mark.column};
      if (is_place(e, words, place)) sequence_.signals.push_back(std::move(place));
    }
  }

  // What the sockets of a kind are called.
  static std::string_view socket_of(std::string_view kind) {
    if (kind == "counter") return "input";
    if (kind == "power supply" || kind == "function generator") return "output";
    return "channel";
  }

  bool is_place(const yaml::Entry& e, const std::vector<Word>& words, SignalPlace& place) {
    if (place.kind == "multimeter") return only_role(e, words);
    if (place.kind != "relay box") return socket(e, words, socket_of(place.kind), place.channel);
    mistakes_.add(e.value.mark, fmt::format("'{}' is a relay box, at which nothing is measured", place.role),
                  fmt::format("leave it out; its ways are closed by `route: WAY` with `through: {}`", place.role));
    return false;
  }

  bool only_role(const yaml::Entry& e, const std::vector<Word>& words) {
    if (words.size() == 1) return true;
    mistakes_.add(e.value.mark_of(words[1].offset), fmt::format("a multimeter has no '{}'", words[1].text),
                  fmt::format("write `{}: {}`", e.key, words[0].text));
    return false;
  }

  bool socket(const yaml::Entry& e, const std::vector<Word>& words, std::string_view what, int& number) {
    if (words.size() == 3 && words[1].text == what) {
      const auto parsed = quantity::parse_count(words[2].text);
      if (parsed && *parsed >= 1 && *parsed <= 64) {
        number = static_cast<int>(*parsed);
        return true;
      }
    }
    mistakes_.add(e.value.mark, fmt::format("'{}' names no {} of {}", e.value.text, what, words[0].text),
                  fmt::format("write `{}: {} {} 1`", e.key, words[0].text, what));
    return false;
  }

  void limits(const yaml::Node* node) {
    constexpr std::string_view example = "level: 1.20 V ± 10 %";
    if (!is_group(node, "limits", example)) return;
    for (const yaml::Entry& e : node->entries) {
      if (!is_new_name(scope_, e.key, e.key_mark, mistakes_) || !is_text(e, example)) continue;
      const std::string text = with_values(e.value.text, sequence_.asked);
      const auto span = quantity::parse_span(text);
      if (!span) {
        yaml::Node at = e.value;
        at.is_plain = at.is_plain && text == at.text;
        yaml::report(at, span.error(), mistakes_);
        continue;
      }
      if (span->low && span->high && !(*span->low < *span->high)) {
        mistakes_.add(e.value.mark,
                      fmt::format("the limit '{}' has no width, so that no reading can meet it", e.value.text),
                      "let its upper end lie above its lower end");
        continue;
      }
      sequence_.limits.push_back(
          {e.key, text, {span->low, span->high}, span->dimension, e.key_mark.line, e.key_mark.column});
    }
  }

 private:
  Scope& scope_;
  Sequence& sequence_;
  yaml::Mistakes& mistakes_;
};

}  // namespace

void read_head(const yaml::Fields& fields, const std::map<std::string, std::string>& set, Scope& scope,
               yaml::Mistakes& mistakes) {
  Head head(scope, mistakes);
  head.roles(fields.node("needs"), true);
  head.roles(fields.node("helps if there"), false);
  head.signals(fields.node("signals"));
  for (Asked& asked : read_asked(fields.node("asked at start"), set, mistakes)) {
    const yaml::Mark at{asked.line, asked.column};
    if (!is_new_name(scope, asked.name, at, mistakes)) continue;
    scope.given.emplace(asked.name, Given{NameKind::reading, asked.dimension, asked.line});
    scope.sequence.asked.push_back(std::move(asked));
  }
  head.limits(fields.node("limits"));
}

bool is_new_name(const Scope& scope, const std::string& name, yaml::Mark at, yaml::Mistakes& mistakes, bool of_part) {
  const auto refuse = [&](std::string_view what, int line) {
    mistakes.add(at, fmt::format("'{}' is already the name of {} in line {}", name, what, line),
                 "give it another name");
    return false;
  };
  for (const RoleNeed& r : scope.sequence.roles)
    if (r.role == name) return refuse("an instrument", r.line);
  for (const SignalPlace& s : scope.sequence.signals)
    if (s.name == name) return refuse("a signal", s.line);
  for (const NamedLimit& l : scope.sequence.limits)
    if (l.name == name && !of_part) return refuse("a limit", l.line);
  if (const auto it = scope.given.find(name); it != scope.given.end()) return refuse("a result", it->second.line);
  return true;
}

}  // namespace eyelevel::sequence
