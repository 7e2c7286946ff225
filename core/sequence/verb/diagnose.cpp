// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/diagnose.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "core/bench/model_sheet.hpp"
#include "core/diagnosis/next_check.hpp"
#include "core/diagnosis/sentences.hpp"
#include "core/sequence/runner/context.hpp"
#include "core/sequence/verb/ask_again.hpp"

namespace eyelevel::sequence {

namespace {

using diagnosis::Evidence;
using diagnosis::Measured;
using diagnosis::Observation;

constexpr std::string_view other_ripple = "other ripple";  // the second reading of the evidence `ripple`
constexpr std::string_view not_known = "not known";        // an answer that tells nothing
constexpr double asked_s = 60;                             // about how long a check takes (practice value)

// "rise_over_level" of the table is `rise over level` in a sequence, and back.
std::string in_sequence(std::string_view id) {
  std::string name(id);
  std::replace(name.begin(), name.end(), '_', ' ');
  return name;
}
std::string in_table(std::string_view name) {
  std::string id(name);
  std::replace(id.begin(), id.end(), ' ', '_');
  return id;
}

bool is_number(std::string_view evidence) { return evidence == "ripple" || diagnosis::against(evidence); }

quantity::Dimension dimension_of(std::string_view evidence) {
  if (evidence == "level" || evidence == "top" || evidence == "rise") return quantity::voltage;
  if (evidence == "jitter") return quantity::time;
  if (evidence == "c1") return quantity::frequency;
  if (evidence == "laser_current") return quantity::current;
  return quantity::ratio;
}

// In the units of core/diagnosis.
Measured measured(const metrology::Reading& reading, std::string_view evidence) {
  const double scale = evidence == "jitter" ? 1e9 : 1;
  return {reading.value * scale, reading.interval.standard_uncertainty * scale};
}

diagnosis::Situation situation_of(const bench::ModelSheet* model) {
  diagnosis::Situation situation;
  if (!model) return situation;
  if (model->laser_current) {
    situation.has_power_loop = model->laser_current->has_power_loop;
    situation.knows_series_resistor = true;
  }
  situation.has_trimmer = model->trimmer.has_value();
  situation.has_service_data = !model->order_of_adjustments.empty();
  if (model->mains) situation.has_isolated_mains = *model->mains == bench::Mains::isolated;
  return situation;
}

struct From {
  std::string evidence;   // id of the table
  std::string name;       // of a reading or an answer
  std::string reference;  // of a reading; empty: the model sheet's
  bool is_answer = false;
};

class Diagnose final : public Action {
 public:
  Diagnose(std::vector<From> from, std::string other, std::int64_t checks)
      : from_(std::move(from)), other_(std::move(other)), checks_(checks) {
    question_.text = fmt::format("What the next checks show, each told when it comes, at most {}", checks);
    question_.kind = bench::AnswerKind::one_of;
  }

  task<Result> run(RunContext& context, const Step& step) const override {
    const diagnosis::Table& table = diagnosis::standard_table();
    const diagnosis::Situation situation = situation_of(context.model());
    std::vector<Observation> seen = looked_at(context, step);
    std::vector<std::size_t> declined;
    for (std::int64_t asked = 0;; ++asked) {
      const diagnosis::Diagnosis found = diagnosis::diagnose(table, seen, situation);
      const auto next = is_settled(found) ? std::nullopt : diagnosis::next_check(table, seen, situation, declined);
      tell(context, step, found, seen, next);
      if (!next || asked == checks_) co_return std::monostate{};
      if (auto observation = co_await answer_of(context, step, next->evidence))
        seen.push_back(std::move(*observation));
      else
        declined.push_back(next->evidence);
    }
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::no_answer; }
  std::string advice_when_late() const override { return "ask for fewer checks, or give more time with `within`"; }
  double likely_s() const override { return quick_s + asked_s * static_cast<double>(checks_); }
  const bench::Question* asks() const override { return checks_ > 0 ? &question_ : nullptr; }

 private:
  // One cause alone, and nearly sure: another check would be work for nothing.
  static bool is_settled(const diagnosis::Diagnosis& found) {
    constexpr double sure = 0.97;
    return found.suspects.front().causes.size() == 1 && found.suspects.front().belief >= sure;
  }

  static void tell(RunContext& context, const Step& step, const diagnosis::Diagnosis& found,
                   const std::vector<Observation>& seen, const std::optional<diagnosis::NextCheck>& next) {
    event::Diagnosed diagnosed{.place = step.place, .findings = {}};
    for (diagnosis::Finding& f : diagnosis::findings(found, seen))
      diagnosed.findings.push_back({std::move(f.cause), std::move(f.because), f.belief});
    if (next) diagnosed.next_check = diagnosis::evidences()[next->evidence].check->how;
    context.tell(std::move(diagnosed));
  }

  // Evidence that was not had is none; the record says which.
  std::vector<Observation> looked_at(RunContext& context, const Step& step) const {
    std::vector<Observation> seen;
    for (const From& from : from_) {
      try {
        if (auto observation = observed(context, from)) seen.push_back(std::move(*observation));
      } catch (const LeftOut& left_out) {
        context.tell(event::Noted{
            step.place,
            fmt::format("{} was not looked at: {}",
                        diagnosis::evidences()[*diagnosis::find_evidence(from.evidence)].about, left_out.why)});
      }
    }
    return seen;
  }

  std::optional<Observation> observed(RunContext& context, const From& from) const {
    if (from.is_answer) {
      const std::string& answer = context.answer(from.name).answer;
      if (answer == not_known) return std::nullopt;
      return diagnosis::observe_told(from.evidence, answer);
    }
    const Measured reading = measured(context.reading(from.name), from.evidence);
    if (from.evidence == "ripple") {
      if (other_.empty()) return diagnosis::observe_ripple(reading);
      return diagnosis::observe_ripple(reading, measured(context.reading(other_), from.evidence));
    }
    return diagnosis::observe(from.evidence, reading, reference_of(context, from));
  }

  static std::optional<Measured> reference_of(RunContext& context, const From& from) {
    if (!from.reference.empty()) return measured(context.reading(from.reference), from.evidence);
    if (*diagnosis::against(from.evidence) == diagnosis::Against::itself) return std::nullopt;
    const bench::ModelSheet* model = context.model();
    if (from.evidence == "level" && model && model->service_value)
      return Measured{model->service_value->level_v.value, 0};
    if (from.evidence == "laser_current" && model && model->laser_current && model->laser_current->label_a)
      return Measured{*model->laser_current->label_a, 0};
    throw LeftOut{fmt::format("neither `against` nor the model sheet says what it ought to be")};
  }

  // Who cannot do a check says so; empty.
  static task<std::optional<Observation>> answer_of(RunContext& context, const Step& step, std::size_t place) {
    const Evidence& evidence = diagnosis::evidences()[place];
    bench::Question question{.text = std::string(evidence.check->how), .kind = bench::AnswerKind::one_of};
    question.name = in_sequence(evidence.id);
    for (const diagnosis::Value& value : evidence.values) question.choices.emplace_back(value.id);
    question.choices.emplace_back(not_known);
    static constexpr AskWords words{"answered", "see that the operator knows what is asked"};
    std::optional<Observation> observation;
    const std::function<std::string(bench::Answer)> use = [&](const bench::Answer& answer) -> std::string {
      const auto understood = bench::understood(question, answer.text);
      context.tell(event::Answered{step.place, understood ? *understood : answer.text, answer.by, question.name});
      if (!understood) return fmt::format("{}; {}", understood.error().message, understood.error().suggestion);
      if (*understood != not_known) observation = diagnosis::observe_told(evidence.id, *understood);
      return {};
    };
    co_await ask_again(context, step, question, words, use);
    co_return observation;
  }

  std::vector<From> from_;
  std::string other_;
  std::int64_t checks_;
  bench::Question question_;
};

// The choices of an answer are values of the evidence.
bool is_answer_to(StepReader& reader, const yaml::Node& at, const Given& given, const Evidence& evidence) {
  std::string known;
  for (const diagnosis::Value& value : evidence.values) known += std::string(value.id) + ", ";
  const auto fits = [&](const std::string& choice) {
    return choice == not_known || diagnosis::find_value(evidence, choice);
  };
  if (!given.choices.empty() && std::all_of(given.choices.begin(), given.choices.end(), fits)) return true;
  reader.report(at, fmt::format("what '{}' may be answered does not tell {}", at.text, evidence.about),
                fmt::format("let its choices be of {}{}", known, not_known));
  return false;
}

std::optional<From> read_from(StepReader& reader, const yaml::Entry& entry, const yaml::Node* against) {
  From from{.evidence = in_table(entry.key), .name = entry.value.text, .reference = {}};
  const Evidence& evidence = diagnosis::evidences()[*diagnosis::find_evidence(from.evidence)];
  const auto given = reader.name(entry.value, from.name, {NameKind::reading, NameKind::answer});
  if (!given || given->kind == NameKind::unknown) return std::nullopt;
  from.is_answer = given->kind == NameKind::answer;
  if (from.is_answer && !is_answer_to(reader, entry.value, *given, evidence)) return std::nullopt;
  if (from.is_answer) return from;
  if (!is_number(from.evidence) || given->dimension != dimension_of(from.evidence)) {
    reader.report(entry.value,
                  fmt::format("'{}' is {}, which does not tell {}", from.name, quantity::with_article(given->dimension),
                              evidence.about),
                  is_number(from.evidence) ? fmt::format("name {}", quantity::with_article(dimension_of(from.evidence)))
                                           : "name an answer");
    return std::nullopt;
  }
  if (const yaml::Node* node = against ? against->find(entry.key) : nullptr) {
    const auto reference = reader.reading(*node, node->text);
    if (reference && *reference != given->dimension)
      reader.report(*node,
                    fmt::format("'{}' is {}, '{}' is {}", node->text, quantity::with_article(*reference), from.name,
                                quantity::with_article(given->dimension)),
                    "name a reading of the same kind");
    from.reference = node->text;
  }
  return from;
}

// What the model sheet never says must be given.
bool needs_reference(const From& from) {
  if (from.is_answer || !from.reference.empty()) return false;
  if (from.evidence == "level" || from.evidence == "laser_current") return false;
  const auto against = diagnosis::against(from.evidence);
  return against && *against != diagnosis::Against::itself;
}

std::string read_other_ripple(StepReader& reader, const yaml::Node& from) {
  const yaml::Node* node = from.find(other_ripple);
  if (!node) return {};
  if (!from.find("ripple"))
    reader.report(*node, "what moves beside the turns tells nothing without what moves with them",
                  "name that one, too, under `ripple`");
  const auto dimension = reader.reading(*node, node->text);
  if (dimension && *dimension != quantity::ratio)
    reader.report(
        *node, fmt::format("'{}' is {}, which does not tell a ripple", node->text, quantity::with_article(*dimension)),
        "name a ratio");
  return node->text;
}

ReadStep read(StepReader& reader) {
  const yaml::Node* node = reader.fields.node("from");
  if (!node || !reader.ok()) return {};
  const yaml::Node* against = reader.fields.node("against");
  std::vector<From> all;
  for (const yaml::Entry& entry : node->entries) {
    if (entry.key == other_ripple) continue;
    const auto from = read_from(reader, entry, against);
    if (!from) continue;
    if (needs_reference(*from))
      reader.report(entry.value, fmt::format("nothing says what {} ought to be", entry.key),
                    fmt::format("name a reading of it under `against`, as in `against: {{ {}: usual }}`", entry.key));
    all.push_back(*from);
  }
  if (all.empty() && reader.ok())
    reader.report("from", "there is nothing to go by", "name readings or answers of earlier steps");
  if (against)
    for (const yaml::Entry& entry : against->entries)
      if (!node->find(entry.key))
        reader.report(entry.value, fmt::format("nothing under `from` is held against it: {}", entry.key),
                      "name the reading under `from`, or leave it out");
  const std::string other = read_other_ripple(reader, *node);
  const auto checks = reader.fields.count("ask at most").value_or(0);
  if (checks > 0 && !reader.fields.has("within"))
    reader.report("ask at most", "nothing says how long somebody may take for the checks", "write `within: 60 min`");
  if (!reader.ok()) return {};
  return {std::make_shared<Diagnose>(std::move(all), other, checks), {}, {}};
}

std::shared_ptr<const yaml::KeyTable> evidence_table(std::string name, bool references) {
  yaml::KeyTable table{.name = std::move(name), .about = "readings and answers of earlier steps", .keys = {}};
  for (const Evidence& evidence : diagnosis::evidences()) {
    const auto against = diagnosis::against(evidence.id);
    if (references && (!against || *against == diagnosis::Against::itself)) continue;
    std::string values;
    for (const diagnosis::Value& value : evidence.values)
      values += (values.empty() ? "" : ", ") + std::string(value.id);
    table.keys.push_back({.name = in_sequence(evidence.id),
                          .type = yaml::Type::text,
                          .help = references ? fmt::format("what {} ought to be", evidence.about)
                                  : is_number(evidence.id)
                                      ? fmt::format("a reading of {}, or an answer: {}", evidence.about, values)
                                      : fmt::format("an answer: {}", values),
                          .example = references ? "usual" : in_sequence(evidence.id)});
    std::string& example = table.keys.back().example;
    std::replace(example.begin(), example.end(), ' ', '_');
  }
  if (!references)
    table.keys.push_back({.name = std::string(other_ripple),
                          .type = yaml::Type::text,
                          .help = "a reading of how the level moves beside the turns of the disc, over the level",
                          .example = "other_ripple"});
  return std::make_shared<const yaml::KeyTable>(std::move(table));
}

}  // namespace

void register_diagnose(Verbs& verbs) {
  registers::Declaration declared{
      .name = "diagnose",
      .about = "say which cause is likely, from readings and answers, and ask for the checks that would tell most",
      .parameters = {.name = "diagnose", .about = "a diagnosis", .keys = {}},
      .example = "- diagnose: pickup\n  from: { level: level_after }\n  ask at most: 5\n  within: 60 min\n",
      .sentence = "Say which cause is likely: <diagnose>"};
  declared.parameters.keys = {{.name = "diagnose",
                               .required = true,
                               .type = yaml::Type::text,
                               .help = "what is to be diagnosed, in words",
                               .example = "pickup"},
                              {.name = "from",
                               .required = true,
                               .type = yaml::Type::group,
                               .help = "which reading or answer of an earlier step stands for which evidence",
                               .example = "{ level: level_pressed, discs: other_discs }",
                               .inside = evidence_table("the evidence", false)},
                              {.name = "against",
                               .type = yaml::Type::group,
                               .help = "readings of a known good unit, or values asked at the start; where none is "
                                       "named, the model sheet's level and current",
                               .example = "{ level: usual_level }",
                               .inside = evidence_table("what it is held against", true)},
                              {.name = "ask at most",
                               .type = yaml::Type::count,
                               .help = "so many of the next checks (usual: 0, the next one is only told)",
                               .example = "5"},
                              only_with_key(),
                              within_key(false),
                              otherwise_key()};
  verbs.add(std::move(declared), read);
}

}  // namespace eyelevel::sequence
