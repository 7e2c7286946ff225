// SPDX-License-Identifier: Apache-2.0
// What a verb and a measure declare, and what a verb's reader may ask while a step is checked. A verb's declaration
// names all its keys (its own key first, then parameters, then those of the common keys below that make sense for it):
// the check, the help and the schema follow from that table alone.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/dimension.hpp"
#include "core/quantity/text.hpp"
#include "core/register/outside.hpp"
#include "core/register/register.hpp"
#include "core/sequence/expression/condition.hpp"
#include "core/sequence/expression/expression.hpp"
#include "core/sequence/language/sequence.hpp"
#include "core/sequence/runner/action.hpp"
#include "core/yaml/fields.hpp"
#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::sequence {

// What a name in a sequence stands for. `unknown`: given by a step that has mistakes itself; nothing more is said of
// it.
enum class NameKind { captures, waveform, reading, answer, unknown };
std::string_view in_words(NameKind kind);  // "captures", "an averaged waveform", "a reading", "an answer"

struct Given {
  NameKind kind = NameKind::unknown;
  quantity::Dimension dimension;  // of a reading
  int line = 0;
  std::string signal = {};                // of captures and waveforms
  std::vector<std::string> choices = {};  // of an answer that is one of a few; empty: anything
  std::string file = {};                  // of the part; empty: the sequence's own
  int column = 0;
  std::shared_ptr<const Action> measured_by =
      {};                // of a reading: what may know the least that a bench leaves uncertain
  int gone_at_line = 0;  // captures are not in the record of a run that is resumed there; 0: nowhere
};

// What a step may refer to at its place in the file.
struct Scope {
  Sequence sequence;                                // roles, signals and limits are complete when steps are read
  std::map<std::string, Given, std::less<>> given;  // by earlier steps
  // Given by earlier steps, but not on the way that leads here; with the line.
  std::map<std::string, int, std::less<>> given_elsewhere = {};
  // A step had mistakes so that nobody knows what it sets up: nothing is said of signals that seem not to be set up.
  bool is_set_up_unclear = false;
  std::map<std::string, double, std::less<>> set_up_probe;  // signals set up so far, with probe factor (0: multimeter)
};

// What `measure` needs beside the operand.
struct MeasureSetting {
  std::string operand;
  std::optional<double> over_s;
  registers::OutsideValues own = {};  // keys that this measure alone has
};

struct MeasureCall {
  std::vector<NameKind> takes;     // results it can be made from
  std::vector<std::string> kinds;  // or the kinds of instrument whose signal it reads directly; then `within` is needed
  quantity::Dimension dimension;
  std::function<task<metrology::Reading>(RunContext&, const Step&, const MeasureSetting&)> run;
  // What the bench alone leaves uncertain at a value, however often it is measured; not set when that is nothing.
  std::function<std::vector<metrology::Contribution>(const bench::BenchFile&, const SignalPlace&, double)> least = {};
};
using Measures = registers::Register<MeasureCall>;

// What a step leaves switched on or closed until something makes it safe.
struct PutsOn {
  std::string role;
  std::string what;  // a signal, or the role again
  std::string how;   // "switched on"
};
inline constexpr std::string_view every_instrument = "every instrument";

class StepReader;
// What reading a step gives; no action when it had mistakes.
struct ReadStep {
  std::shared_ptr<const Action> action;
  std::optional<Given> gives;  // when it leaves a result
  // The signal that it sets up, and its probe factor (0: an instrument without a probe).
  std::optional<std::pair<std::string, double>> sets_up = {};
  std::optional<PutsOn> puts_on = {};
  std::string makes_safe = {};  // a role, a signal, or every_instrument
  bool finishes = false;        // no step behind it in the same list is ever done
  Flow flow = Flow::none;       // with Flow::decide and Flow::repeat, its action gives a Decision
  Rounds rounds = {};
  std::vector<Step> inside = {};
  std::optional<NamedLimit> must_meet = {};  // what it gives is held against it, unless the step says another limit
};
using VerbCall = std::function<ReadStep(StepReader&)>;
using Verbs = registers::Register<VerbCall>;

// A part of a sequence that stands in a file of its own.
struct PartCall {
  const yaml::Node& file;
  const yaml::Node* fill_in = nullptr;
  const yaml::Node* bring_back = nullptr;
};

// What a verb with steps inside asks of the check that reads it. Names that a list gives are known from then on.
struct ReadInside {
  std::function<std::vector<Step>(const yaml::Node& list, std::string_view key)> steps;
  // Each <NAME> in the texts of the list stands for its value. The values are good until it returns.
  std::function<std::vector<Step>(const yaml::Node& list, const std::map<std::string, std::string>& values)> filled_in;
  std::function<std::vector<Step>(const PartCall&)> part;
};

struct Language {
  Verbs verbs{"verb"};
  Measures measures{"measure"};
};

// One step whose keys were held against the verb's table. The functions that look something up report what is wrong
// with it and give an empty value; `ok()` says whether anything was reported by this reader.
class StepReader {
 public:
  StepReader(const yaml::Node& step, const Scope& scope, const Language& language, const ReadInside& inside,
             yaml::Mistakes& mistakes)
      : fields(step),
        scope(scope),
        language(language),
        inside(inside),
        step_(step),
        mistakes_(mistakes),
        before_(mistakes.size()) {}

  const yaml::Fields fields;
  const Scope& scope;
  const Language& language;
  const ReadInside& inside;

  std::optional<std::string> text(std::string_view key) const { return fields.text(key); }
  const SignalPlace* signal(std::string_view key);
  const SignalPlace* signal(const yaml::Node& at, std::string_view name);
  // A signal of this kind that an earlier step has set up.
  const SignalPlace* ready_signal(std::string_view key, std::string_view kind);
  const RoleNeed* role(const yaml::Node& at, std::string_view name);
  // Parts `WHAT of NAME` at its last " of "; names hold no spaces. `example` completes the advice.
  struct OfPhrase {
    std::string what;
    std::string operand;
    yaml::Node operand_at;
  };
  std::optional<OfPhrase> of_phrase(std::string_view key, std::string_view wrong, std::string_view advice);
  const NamedLimit* limit(std::string_view key);
  // The dimension of a reading that an earlier step gives under this name.
  std::optional<quantity::Dimension> reading(const yaml::Node& at, std::string_view name);
  // A name of one of the kinds.
  std::optional<Given> name(const yaml::Node& at, std::string_view name, const std::vector<NameKind>& kinds);

  // The steps of a list inside this one.
  std::vector<Step> steps(std::string_view key);
  std::vector<Step> steps(const yaml::Node& list, std::string_view key) { return inside.steps(list, key); }

  // The readings that earlier steps give, by name; as long as the scope is there.
  NamedDimensions readings() const;

  // What earlier steps were told by the operator; as long as the scope is there.
  NamedAnswers answers() const;
  // Names of earlier results that the step uses: those that were asked for by name, and those told here.
  void uses_name(const std::string& name) { used_names_.insert(name); }
  const std::set<std::string>& used_names() const { return used_names_; }

  // A mistake inside the text of a key. Nothing is said where the text uses the result of a step that has mistakes.
  void report(std::string_view key, const quantity::TextError& error);
  void report(const yaml::Node& at, std::string message, std::string suggestion = {});
  void report(std::string_view key, std::string message, std::string suggestion = {});
  bool ok() const { return mistakes_.size() == before_; }
  const yaml::Node& node() const { return step_; }
  yaml::Mistakes& mistakes() { return mistakes_; }
  // The instruments that the step uses: those that were asked for by name or by signal, and those told here.
  void uses(const std::string& role) { roles_.insert(role); }
  const std::set<std::string>& roles() const { return roles_; }

 private:
  const yaml::Node& step_;
  yaml::Mistakes& mistakes_;
  std::size_t before_;
  std::set<std::string> roles_;
  std::set<std::string> used_names_;
};

// The keys that stand in many verbs.
yaml::Key within_key(bool required);
yaml::Key only_with_key();
yaml::Key name_it_key();
yaml::Key must_meet_key(bool required = false);
yaml::Key steps_key(std::string name, std::string help);
yaml::Key try_again_key();
yaml::Key otherwise_key();
// Every verb has it: see `resume here` in sequences/README.md.
yaml::Key resume_here_key();

}  // namespace eyelevel::sequence
