// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/check.hpp"

#include <fmt/format.h>

#include <set>

#include "core/bench/bench_file.hpp"
#include "core/quantity/text.hpp"
#include "core/sequence/language/phrase.hpp"
#include "core/sequence/language/table.hpp"
#include "core/yaml/key_table.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

std::string did_you_mean(std::string_view word, const std::vector<std::string>& known, const std::string& otherwise) {
  if (const auto near = yaml::nearest(word, known)) return fmt::format("did you mean '{}'?", *near);
  return known.empty() ? otherwise : fmt::format("write {}", yaml::one_of(known));
}

// A step in one line, as the user wrote it: "prompt: Insert the disc".
std::string step_in_words(const yaml::Entry& first) {
  std::string value = first.value.text;
  for (const yaml::Node& item : first.value.items) value += (value.empty() ? "" : ", ") + item.text;
  std::replace(value.begin(), value.end(), '\n', ' ');
  return value.empty() ? first.key : first.key + ": " + value;
}

class Checker {
 public:
  Checker(yaml::Document& document, const Language& language)
      : document_(document), language_(language), mistakes_(document.mistakes) {}

  std::optional<Sequence> all() {
    if (document_.root.shape == yaml::Shape::nothing) {
      if (mistakes_.fine()) mistakes_.add({1, 1}, "there is no sequence here", "begin with `sequence: NAME`");
      return std::nullopt;
    }
    yaml::check(document_.root, sequence_table(), mistakes_);
    if (document_.root.shape != yaml::Shape::map) return std::nullopt;
    const yaml::Fields fields(document_.root);
    Sequence& s = scope_.sequence;
    s.name = fields.text("sequence").value_or("");
    s.about = fields.text("about").value_or("");
    s.file = document_.file;
    s.source = document_.source;
    s.proves = fields.text("proves").value_or("");
    s.cautions = fields.texts("cautions");
    roles(fields.node("needs"), true);
    roles(fields.node("helps if there"), false);
    signals(fields.node("signals"));
    limits(fields.node("limits"));
    // Lists of steps are read in the order in which they run, so that a name is known to all steps after its own.
    s.opening = steps(fields.node("opening"), "opening");
    s.steps = steps(fields.node("steps"), "steps");
    s.closing = steps(fields.node("closing"), "closing");
    left_on();
    if (!mistakes_.fine()) return std::nullopt;
    return std::move(s);
  }

 private:
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
      if (const RoleNeed* first = scope_.sequence.role(e.key))
        mistakes_.add(e.key_mark, fmt::format("'{}' is already named in line {}", e.key, first->line),
                      "give it another name");
      need.rate_hz = at_least(e.value, "sample rate", quantity::sample_rate);
      need.points = at_least(e.value, "memory", quantity::samples);
      if (bench::is_kind(need.kind) && need.kind != "oscilloscope" && (need.rate_hz || need.points))
        mistakes_.add(e.value.mark, fmt::format("a {} has neither sample rate nor memory", need.kind),
                      "leave them out, or write `kind: oscilloscope`");
      scope_.sequence.roles.push_back(std::move(need));
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

  // A name may stand for one thing only.
  bool is_new_name(const std::string& name, yaml::Mark at) {
    const auto refuse = [&](std::string_view what, int line) {
      mistakes_.add(at, fmt::format("'{}' is already the name of {} in line {}", name, what, line),
                    "give it another name");
      return false;
    };
    for (const RoleNeed& r : scope_.sequence.roles)
      if (r.role == name) return refuse("an instrument", r.line);
    for (const SignalPlace& s : scope_.sequence.signals)
      if (s.name == name) return refuse("a signal", s.line);
    for (const NamedLimit& l : scope_.sequence.limits)
      if (l.name == name) return refuse("a limit", l.line);
    if (const auto it = scope_.given.find(name); it != scope_.given.end()) return refuse("a result", it->second.line);
    return true;
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
      if (!is_new_name(e.key, e.key_mark) || !is_text(e, example)) continue;
      const auto words = words_of(e.value.text);
      const RoleNeed* role = words.empty() ? nullptr : scope_.sequence.role(words[0].text);
      if (!role) {
        std::vector<std::string> known;
        known.reserve(scope_.sequence.roles.size());
        for (const RoleNeed& r : scope_.sequence.roles) known.push_back(r.role);
        const std::string word = words.empty() ? std::string() : words[0].text;
        mistakes_.add(e.value.mark, fmt::format("unknown instrument '{}'", word),
                      did_you_mean(word, known, "name it under `needs`, as in `scope: { kind: oscilloscope }`"));
        continue;
      }
      SignalPlace place{e.key, role->role, role->kind, 0, e.key_mark.line, e.key_mark.column};
      if (is_place(e, words, place)) scope_.sequence.signals.push_back(std::move(place));
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
      if (!is_new_name(e.key, e.key_mark) || !is_text(e, example)) continue;
      const auto span = quantity::parse_span(e.value.text);
      if (!span) {
        yaml::report(e.value, span.error(), mistakes_);
        continue;
      }
      if (span->low && span->high && !(*span->low < *span->high)) {
        mistakes_.add(e.value.mark,
                      fmt::format("the limit '{}' has no width, so that no reading can meet it", e.value.text),
                      "let its upper end lie above its lower end");
        continue;
      }
      scope_.sequence.limits.push_back(
          {e.key, e.value.text, {span->low, span->high}, span->dimension, e.key_mark.line, e.key_mark.column});
    }
  }

  std::vector<Step> steps(const yaml::Node* node, const std::string& part, int number = 0) {
    std::vector<Step> all;
    if (!node) return all;
    if (node->shape != yaml::Shape::list) {
      mistakes_.add(node->mark,
                    fmt::format("`{}` is a list of steps, found {}", number ? "otherwise" : part,
                                yaml::with_article(node->shape)),
                    "begin each step with `- ` and its verb");
      return all;
    }
    if (node->items.empty()) mistakes_.add(node->mark, "there is no step here", "write at least one step");
    int next = 0;
    for (const yaml::Node& item : node->items)
      if (auto step = one_step(item, part, number ? number : ++next)) all.push_back(std::move(*step));
    return all;
  }

  const Verbs::Entry* verb_of(const yaml::Node& item) {
    if (item.shape != yaml::Shape::map || item.entries.empty()) {
      mistakes_.add(item.mark,
                    fmt::format("a step is a verb with what it does, found {}",
                                item.shape == yaml::Shape::text ? fmt::format("the text '{}'", item.text)
                                                                : std::string(yaml::with_article(item.shape))),
                    "write it as in `- note: The disc is scratched`");
      return nullptr;
    }
    const yaml::Entry& first = item.entries.front();
    if (const auto* verb = language_.verbs.find(first.key)) return verb;
    for (const yaml::Entry& e : item.entries)
      if (const auto* verb = language_.verbs.find(e.key)) {
        mistakes_.add(first.key_mark, fmt::format("a step begins with its verb, found '{}'", first.key),
                      fmt::format("put `{}` first", verb->declaration.name));
        return nullptr;
      }
    mistakes_.add(first.key_mark, fmt::format("unknown verb '{}'", first.key),
                  did_you_mean(first.key, language_.verbs.names(), ""));
    return nullptr;
  }

  std::optional<Step> one_step(const yaml::Node& item, const std::string& part, int number) {
    const std::size_t before = mistakes_.size();
    const auto* verb = verb_of(item);
    const bool has_right_keys = verb && yaml::check(item, verb->declaration.parameters, mistakes_);
    if (item.shape != yaml::Shape::map) return std::nullopt;
    ReadStep read;
    if (verb) {
      StepReader reader(item, scope_, language_, mistakes_);
      if (has_right_keys) read = verb->call(reader);
      if (read.sets_up) scope_.set_up_probe.insert_or_assign(read.sets_up->first, read.sets_up->second);
      if (read.puts_on) put_on_.push_back({*read.puts_on, first_mark(item)});
      if (part == "closing" && !read.makes_safe.empty()) made_safe_.insert(read.makes_safe);
    }
    if (!has_right_keys) scope_.is_set_up_unclear = true;
    const yaml::Entry& first = item.entries.front();
    Step step;
    step.place = {part, number, first.key, step_in_words(first), first.key_mark.line, first.key_mark.column};
    step.action = read.action;
    common_keys(item, read, step);
    if (mistakes_.size() != before || !step.action) return std::nullopt;
    return step;
  }

  static yaml::Mark first_mark(const yaml::Node& item) { return item.entries.front().key_mark; }

  // What a step has put on and closing does not take off again, whatever happened in between.
  void left_on() {
    if (scope_.is_set_up_unclear || made_safe_.contains(std::string(every_instrument))) return;
    for (const PutOn& on : put_on_) {
      if (made_safe_.contains(on.what.role) || made_safe_.contains(on.what.what)) continue;
      mistakes_.add(
          on.at,
          fmt::format("'{}' is {} here, and `closing` does not make {} safe", on.what.what, on.what.how, on.what.role),
          fmt::format("write `make safe: {}` into closing", every_instrument));
    }
  }

  // `within`, `only with`, `name it`, `must meet`, `otherwise`. Also for steps with mistakes, so that their names are
  // known to later ones.
  void common_keys(const yaml::Node& item, const ReadStep& read, Step& step) {
    StepReader reader(item, scope_, language_, mistakes_);
    if (const auto within_s = reader.fields.quantity("within", quantity::time)) {
      step.within = base::from_seconds(*within_s);
      if (!(*within_s > 0))
        reader.report("within", "no step can be done in no time", "write a time above zero, such as `45 s`");
    }
    if (const auto with = reader.text("only with"); with && reader.role(*reader.fields.node("only with"), *with))
      step.only_with = *with;
    if (read.gives && read.gives->kind == NameKind::reading) must_meet(reader, read, step);
    if (const auto name = reader.text("name it"); name && !name->empty()) {
      step.name_it = *name;
      if (is_new_name(*name, reader.fields.node("name it")->mark)) {
        Given given = read.gives.value_or(Given{});
        given.line = reader.fields.node("name it")->mark.line;
        scope_.given.emplace(*name, given);
      }
    }
    if (const yaml::Node* otherwise = reader.fields.node("otherwise")) {
      step.has_otherwise = true;
      step.otherwise = steps(otherwise, step.place.part, step.place.number);
    }
  }

  void must_meet(StepReader& reader, const ReadStep& read, Step& step) {
    const NamedLimit* limit = reader.limit("must meet");
    if (!limit) return;
    if (limit->dimension != read.gives->dimension) {
      reader.report("must meet",
                    fmt::format("the limit '{}' is {} ({}), but this step gives {}", limit->name,
                                quantity::with_article(limit->dimension), limit->text,
                                quantity::with_article(read.gives->dimension)),
                    fmt::format("name a limit such as `{}`", quantity::example_of(read.gives->dimension)));
      return;
    }
    step.must_meet = *limit;
  }

  yaml::Document& document_;
  const Language& language_;
  yaml::Mistakes& mistakes_;
  Scope scope_;
  struct PutOn {
    PutsOn what;
    yaml::Mark at;
  };
  std::vector<PutOn> put_on_;
  std::set<std::string> made_safe_;  // in closing
};

}  // namespace

std::optional<Sequence> check(yaml::Document& document, const Language& language) {
  return Checker(document, language).all();
}

}  // namespace eyelevel::sequence
