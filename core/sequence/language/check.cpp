// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/check.hpp"

#include <fmt/format.h>

#include <set>

#include "core/quantity/text.hpp"
#include "core/sequence/language/asked.hpp"
#include "core/sequence/language/head.hpp"
#include "core/sequence/language/left_on.hpp"
#include "core/sequence/language/part_call.hpp"
#include "core/sequence/language/placeholders.hpp"
#include "core/sequence/language/resume_here.hpp"
#include "core/sequence/language/rounds.hpp"
#include "core/sequence/language/step_verb.hpp"
#include "core/sequence/language/step_words.hpp"
#include "core/sequence/language/table.hpp"
#include "core/sequence/language/unused.hpp"
#include "core/yaml/key_table.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

// What rows and parts may multiply to.
constexpr std::size_t steps_most = 20000;

class Checker {
 public:
  Checker(yaml::Document& document, const Language& language, const CheckSetting& setting)
      : document_(document),
        language_(language),
        setting_(setting),
        here_{.mistakes = &document.mistakes, .file = document.file} {
    inside_.steps = [this](const yaml::Node& list, std::string_view key) { return steps(list, key); };
    inside_.filled_in = [this](const yaml::Node& list, const FillIns& values) {
      const std::size_t outer = here_.filled_in.size();
      for (const auto& value : values) here_.filled_in.push_back(value.first);
      const yaml::Node filled = sequence::filled_in(list, values);
      add_words(filled, words_);
      auto all = steps(filled, "do");
      here_.filled_in.resize(outer);
      return all;
    };
    inside_.part = [this](const PartCall& call) { return part(call); };
  }

  std::optional<Sequence> all() {
    yaml::Mistakes& mistakes = document_.mistakes;
    if (document_.root.shape == yaml::Shape::nothing) {
      if (mistakes.fine()) mistakes.add({1, 1}, "there is no sequence here", "begin with `sequence: NAME`");
      return std::nullopt;
    }
    if (document_.root.find("part") && !document_.root.find("sequence")) {
      mistakes.add({1, 1}, "this is a part, which is no sequence by itself", "check the sequences that use it");
      return std::nullopt;
    }
    yaml::check(document_.root, sequence_table(), mistakes);
    if (document_.root.shape != yaml::Shape::map) return std::nullopt;
    const yaml::Fields fields(document_.root);
    Sequence& s = scope_.sequence;
    s.name = fields.text("sequence").value_or("");
    s.about = fields.text("about").value_or("");
    s.file = document_.file;
    s.source = document_.source;
    s.proves = fields.text("proves").value_or("");
    s.cautions = fields.texts("cautions");
    read_head(fields, setting_.set, scope_, mistakes);
    // Lists of steps are read in the order in which they run, so that a name is known to all steps after its own.
    s.opening = outermost(fields.node("opening"), "opening");
    set_up_by_opening_ = scope_.set_up_probe;
    s.steps = outermost(fields.node("steps"), "steps");
    s.closing = outermost(fields.node("closing"), "closing");
    if (!scope_.is_set_up_unclear) mistakes.take(left_on_.mistakes());
    mistakes.drop_repeated();
    if (!mistakes.fine()) return std::nullopt;
    if (const yaml::Node* limits = fields.node("limits")) add_words(*limits, words_);
    report_unused(s, words_, mistakes);
    report_unused(results_, used_, mistakes);
    mistakes.drop_repeated();
    return std::move(s);
  }

 private:
  // Where in the sequence and its parts the check stands.
  struct Here {
    yaml::Mistakes* mistakes;
    std::string file;
    std::string part = {};                    // "opening", "steps", "closing"
    int number = 0;                           // of the outermost step
    std::shared_ptr<Names> names = {};        // of the part; empty: the sequence's own are what they are
    std::string name_prefix = {};             // of the part's results in the run
    std::vector<std::string> filled_in = {};  // names that rows and callers fill in here
    std::vector<std::string> files = {};      // of the parts around this one
  };

  yaml::Mistakes& mistakes() { return *here_.mistakes; }

  std::vector<Step> outermost(const yaml::Node* node, const std::string& part) {
    here_.part = part;
    here_.number = 0;
    if (!node) return {};
    add_words(*node, words_);
    return steps(*node, part);
  }

  std::vector<Step> steps(const yaml::Node& node, std::string_view key) {
    std::vector<Step> all;
    if (node.shape != yaml::Shape::list) {
      mistakes().add(node.mark, fmt::format("`{}` is a list of steps, found {}", key, yaml::with_article(node.shape)),
                     "begin each step with `- ` and its verb");
      return all;
    }
    if (node.items.empty()) mistakes().add(node.mark, "there is no step here", "write at least one step");
    const bool is_outermost = key == here_.part && here_.files.empty();
    bool finished = false;
    for (const yaml::Node& item : node.items) {
      if (finished) {
        mistakes().add(item.mark, "this step is never reached, the one before it ends the sequence",
                       "put it before, or into `closing`");
        finished = false;
      }
      if (is_outermost) ++here_.number;
      if (too_many(item)) return all;
      if (auto step = one_step(item)) {
        finished = step->always_finishes;
        all.push_back(std::move(*step));
      }
    }
    return all;
  }

  bool too_many(const yaml::Node& item) {
    if (++read_ == steps_most + 1)
      mistakes().add(item.mark, fmt::format("more than {} steps, with all rows and parts", steps_most),
                     "use `repeat`, or fewer rows");
    return read_ > steps_most;
  }

  std::optional<Step> one_step(const yaml::Node& written) {
    const std::size_t before = mistakes().size();
    const auto* verb = verb_of(written, language_.verbs, mistakes());
    const yaml::Node item =
        verb ? with_asked_values(written, verb->declaration.parameters, scope_.sequence.asked) : written;
    const bool has_right_keys = verb && yaml::check(item, verb->declaration.parameters, mistakes());
    if (item.shape != yaml::Shape::map || item.entries.empty()) return std::nullopt;
    report_not_filled_in(item, here_.filled_in, mistakes());
    const yaml::Entry& first = item.entries.front();
    Step step;
    step.place = {here_.part,
                  here_.number,
                  first.key,
                  step_in_words(first),
                  first.key_mark.line,
                  first.key_mark.column,
                  here_.files.empty() ? std::string() : here_.file};
    step.names = here_.names;
    if (verb) step.said = said_by(item, verb->declaration.parameters);
    if (const yaml::Node* here = has_right_keys ? item.find("resume here") : nullptr; here && here->text == "yes") {
      step.resume_here = here_.part == "steps" && depth_ == 0;
      if (step.resume_here)
        resume_here(here->mark, left_on_.on_now(), set_up_by_opening_, scope_, mistakes());
      else
        mistakes().add(here->mark, "a run can only be resumed with a step that stands in `steps` itself",
                       "say it at the step around this one, or leave it out");
    }
    ReadStep read;
    const std::size_t given_before = given_here_.size();
    if (has_right_keys) {
      StepReader reader(item, scope_, language_, inside_, mistakes());
      ++depth_;
      read = verb->call(reader);
      --depth_;
      step.roles = reader.roles();
      for (const std::string& name : reader.used_names()) used_.insert(unique_name(name));
    } else {
      // What stands inside has its mistakes told all the same.
      for (const std::string_view key : {"then", "do"})
        if (const yaml::Node* list = item.find(key)) steps(*list, key);
      scope_.is_set_up_unclear = true;
    }
    if (read.sets_up) scope_.set_up_probe.insert_or_assign(read.sets_up->first, read.sets_up->second);
    left_on_.step(read, here_.part, here_.file, first.key_mark);
    step.action = read.action;
    step.flow = read.flow;
    step.rounds = read.rounds;
    step.inside = std::move(read.inside);
    if (const yaml::Node* limit = item.find("must meet"); limit && !read.gives)
      step.said.emplace_back("must meet", limit->text);
    if (step.flow == Flow::decide) {
      other_way(item, given_before, step);
    } else {
      common_keys(item, read, step);
    }
    step.always_finishes =
        read.finishes || (any_finishes(step.inside) && (step.flow != Flow::decide || any_finishes(step.otherwise)));
    for (const auto* list : {&step.inside, &step.otherwise})
      for (const Step& s : *list) step.roles.insert(s.roles.begin(), s.roles.end());
    if (mistakes().size() != before || (!step.action && step.inside.empty())) return std::nullopt;
    return step;
  }

  static bool any_finishes(const std::vector<Step>& list) {
    return std::any_of(list.begin(), list.end(), [](const Step& s) { return s.always_finishes; });
  }

  // What `then` gives is not there for the steps that are done where the condition does not hold; both may give a
  // result of one name.
  void other_way(const yaml::Node& item, std::size_t given_before, Step& step) {
    std::map<std::string, Given, std::less<>> of_then;
    for (std::size_t i = given_before; i < given_here_.size(); ++i)
      if (auto it = scope_.given.extract(given_here_[i])) {
        scope_.given_elsewhere.emplace(it.key(), it.mapped().line);
        of_then.insert(std::move(it));
      }
    common_keys(item, {}, step);
    for (auto& [name, given] : of_then) {
      scope_.given_elsewhere.erase(name);
      const auto [it, is_new] = scope_.given.emplace(name, given);
      Given& other = it->second;
      if (!is_new) other.measured_by = nullptr;  // by one of two
      const bool is_known = given.kind != NameKind::unknown && other.kind != NameKind::unknown;
      if (is_new || !is_known ||
          (given.kind == other.kind && given.dimension == other.dimension && given.choices == other.choices))
        continue;
      mistakes().add({other.line, other.column},
                     fmt::format("'{}' is something else in line {}, where the condition holds", name, given.line),
                     "give one of them another name");
    }
  }

  std::string unique_name(const std::string& name) const {
    if (!here_.names) return name;
    const auto it = here_.names->find(name);
    return it == here_.names->end() ? name : it->second;
  }

  // `within`, `only with`, `try again`, `name it`, `must meet`, `otherwise`. Also for steps with mistakes, so that
  // their names are known to later ones.
  void common_keys(const yaml::Node& item, const ReadStep& read, Step& step) {
    StepReader reader(item, scope_, language_, inside_, mistakes());
    if (const auto within_s = reader.fields.quantity("within", quantity::time)) {
      step.within = base::from_seconds(*within_s);
      if (!(*within_s > 0))
        reader.report("within", "no step can be done in no time", "write a time above zero, such as `45 s`");
    }
    if (const auto with = reader.text("only with"); with && reader.role(*reader.fields.node("only with"), *with))
      step.only_with = *with;
    if (const yaml::Node* again = reader.fields.node("try again"))
      step.again = read_try_again(*again, mistakes()).value_or(TryAgain{});
    step.must_meet = read.must_meet;
    if (read.gives && read.gives->kind == NameKind::reading) must_meet(reader, read, step);
    if (const auto name = reader.text("name it"); name && !name->empty()) {
      const yaml::Node& at = *reader.fields.node("name it");
      if (is_new_name(scope_, *name, at.mark, mistakes(), here_.names != nullptr))
        step.name_it = give(*name, at.mark, read.gives.value_or(Given{}));
      step.called = *name;
    }
    if (const yaml::Node* otherwise = reader.fields.node("otherwise")) {
      step.has_otherwise = true;
      ++depth_;
      step.otherwise = steps(*otherwise, "otherwise");
      --depth_;
    }
  }

  // What the name is called in the whole run.
  std::string give(const std::string& name, yaml::Mark at, Given given) {
    given.line = at.line;
    given.column = at.column;
    if (!here_.files.empty()) given.file = here_.file;
    const std::string unique =
        here_.names ? here_.names->try_emplace(name, here_.name_prefix + name).first->second : name;
    results_.push_back({name, unique, given});
    given_here_.push_back(name);
    scope_.given.emplace(name, std::move(given));
    return unique;
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

  std::vector<Step> part(const PartCall& call) {
    const auto path = part_path(call.file, here_.file, document_.file, mistakes());
    if (!path) return {};
    if (!setting_.parts) {
      mistakes().add(call.file.mark, "parts cannot be read here", "write the steps into the sequence itself");
      return {};
    }
    if (!may_be_used(call.file, *path, document_.file, here_.files, mistakes())) return {};
    yaml::Document document = setting_.parts(*path);
    if (yaml::check(document.root, part_table(), document.mistakes)) {
      const FillIns values = fill_ins(call, document, scope_.sequence.asked, mistakes());
      Here inside{.mistakes = &document.mistakes, .file = *path, .part = here_.part, .number = here_.number};
      inside.files = here_.files;
      inside.files.push_back(*path);
      inside.names = std::make_shared<Names>();
      const std::string name = document.root.find("part")->text;
      inside.name_prefix = fmt::format("{}{}-{}.", here_.name_prefix, name, ++uses_[name]);
      for (const auto& value : values) inside.filled_in.push_back(value.first);
      auto all = steps_of_part(call, document, values, std::move(inside));
      keep_source(*path, document.source);
      document_.mistakes.take(document.mistakes.list());
      if (document.mistakes.fine()) return all;
    } else {
      document_.mistakes.take(document.mistakes.list());
    }
    // Where the caller stands, so that nothing follows from what the part lacks.
    mistakes().add(call.file.mark, fmt::format("the part '{}' has mistakes", call.file.text), "see there");
    return {};
  }

  std::vector<Step> steps_of_part(const PartCall& call, const yaml::Document& part, const FillIns& values,
                                  Here inside) {
    // What is brought back is given by the part's steps under the caller's name at once.
    struct Back {
      std::string inner, outer;
      yaml::Mark inner_at, outer_at;
    };
    std::vector<Back> backs;
    if (call.bring_back)
      for (const yaml::Entry& e : call.bring_back->entries) {
        if (!is_new_name(scope_, e.value.text, e.value.mark, mistakes(), here_.names != nullptr)) continue;
        inside.names->insert_or_assign(e.key, give(e.value.text, e.value.mark, Given{}));
        backs.push_back({e.key, e.value.text, e.key_mark, e.value.mark});
      }
    const Here outer = std::exchange(here_, std::move(inside));
    auto given = std::exchange(scope_.given, {});
    auto given_here = std::exchange(given_here_, {});
    const yaml::Node list = filled_in(*part.root.find("steps"), values);
    add_words(list, words_);
    std::vector<Step> all = steps(list, "steps");
    const std::vector<std::string> gives = results_of(part, scope_.given, mistakes());
    given.swap(scope_.given);
    given_here.swap(given_here_);
    here_ = outer;
    for (const Back& back : backs) {
      const auto it = given.find(back.inner);
      if (std::find(gives.begin(), gives.end(), back.inner) == gives.end()) {
        mistakes().add(back.inner_at, fmt::format("the part gives no '{}'", back.inner),
                       yaml::would_be_right(back.inner, gives, "list it under `gives` in the part"));
        continue;
      }
      if (it == given.end()) continue;  // told in the part
      Given& there = scope_.given.at(back.outer);
      there = it->second;
      there.line = back.outer_at.line;
    }
    return all;
  }

  void keep_source(const std::string& file, const std::string& source) {
    auto& parts = scope_.sequence.parts;
    const auto is_it = [&](const event::PartSource& p) { return p.file == file; };
    if (std::none_of(parts.begin(), parts.end(), is_it)) parts.push_back({file, source});
  }

  yaml::Document& document_;
  const Language& language_;
  const CheckSetting& setting_;
  Here here_;
  ReadInside inside_;
  Scope scope_;
  LeftOn left_on_;
  std::map<std::string, double, std::less<>> set_up_by_opening_;
  int depth_ = 0;                        // of steps inside steps
  std::map<std::string, int> uses_;      // of each part
  std::size_t read_ = 0;                 // steps so far
  std::vector<std::string> given_here_;  // in order, in the sequence or the part that is read
  std::vector<NamedResult> results_;
  std::set<std::string> used_;   // unique names of results
  std::set<std::string> words_;  // of all texts of steps
};

}  // namespace

std::optional<Sequence> check(yaml::Document& document, const Language& language, const CheckSetting& setting) {
  return Checker(document, language, setting).all();
}

}  // namespace eyelevel::sequence
