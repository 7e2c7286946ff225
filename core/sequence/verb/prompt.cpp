// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/prompt.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

#include "core/bench/deed.hpp"
#include "core/bench/model_sheet.hpp"
#include "core/metrology/type_b.hpp"
#include "core/sequence/verb/ask_again.hpp"

namespace eyelevel::sequence {

namespace {

using bench::AnswerKind;

// About how long somebody needs to read and answer, and to do one thing to the player (practice values).
constexpr double reading_s = 5;
constexpr double deed_s = 12;

class Prompt final : public Action {
 public:
  Prompt(bench::Question question, std::optional<double> give_or_take)
      : question_(std::move(question)), give_or_take_(give_or_take) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    static constexpr AskWords words{"answered", "see that the operator knows what is asked"};
    Result result;
    const std::function<std::string(bench::Answer)> use = [&](const bench::Answer& answer) -> std::string {
      const auto understood = bench::understood(question_, answer.text);
      context.tell(event::Answered{step.place, understood ? *understood : answer.text, answer.by, question_.name});
      if (!understood) return fmt::format("{}; {}", understood.error().message, understood.error().suggestion);
      result = told(context, *understood);
      return {};
    };
    co_await ask_again(context, step, question_, words, use);
    co_return result;
  }
  // A lit laser and a screwdriver: only where the maker's service data want it so.
  void check_on_model(const Step& step, const bench::ModelSheet* model, yaml::Mistakes& mistakes) const override {
    const std::vector<bench::Deed> deeds = bench::deeds_asked_for(question_.text);
    const bool is_live = std::any_of(deeds.begin(), deeds.end(), [](const bench::Deed& deed) { return deed.live; });
    const bool is_allowed = model && model->trimmer && !model->trimmer->player_off_while_turning;
    if (is_live && !is_allowed)
      mistakes.add({step.place.line, step.place.column},
                   "the trimmer is to be turned while the player is on, and no model sheet quotes service data that "
                   "allow it",
                   "have the player switched off first, or name the service data in the model sheet");
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::no_answer; }
  std::string advice_when_late() const override {
    return "is somebody at the bench? start the run again when they are";
  }
  double likely_s() const override {
    return reading_s + deed_s * static_cast<double>(bench::deeds_asked_for(question_.text).size());
  }
  const bench::Question* asks() const override { return &question_; }
  std::optional<bool> leaves_laser_lit() const override { return bench::leaves_laser_lit(question_.text); }

 private:
  Result told(RunContext& context, const std::string& answer) const {
    if (question_.kind == AnswerKind::done) return std::monostate{};
    if (question_.kind == AnswerKind::value) return value(context, answer);
    return Told{answer};
  }

  // What was read elsewhere, as sure as the sequence says.
  Result value(RunContext& context, const std::string& answer) const {
    metrology::Reading reading;
    reading.name = reading.measure = question_.text;
    reading.value = *quantity::parse_quantity(answer, question_.allowed->dimension);
    reading.unit =
        question_.allowed->dimension == quantity::ratio ? "1" : quantity::unit_of(question_.allowed->dimension);
    reading.count = 1;
    reading.from_s = reading.until_s = context.now_s();
    if (give_or_take_) {
      reading.contributions = {metrology::rectangular("as told by the operator: " + question_.text, *give_or_take_)};
      reading.interval = metrology::combine(reading.contributions);
    } else {
      reading.notes.emplace_back("nobody said how sure it is, so that nothing made of it can pass");
      context.cannot_pass(reading.name);
    }
    return reading;
  }

  bench::Question question_;
  std::optional<double> give_or_take_;  // SI
};

constexpr std::array kinds = {AnswerKind::done,  AnswerKind::yes_or_no, AnswerKind::one_of,
                              AnswerKind::value, AnswerKind::code,      AnswerKind::text};

// Choices are compared in conditions, so they are words.
void read_choices(StepReader& reader, bench::Question& question) {
  const yaml::Node* list = reader.fields.node("choices");
  if ((question.kind == AnswerKind::one_of) != (list != nullptr)) {
    reader.report(list ? "choices" : "answer",
                  list ? "only `answer: one of` has choices" : "nothing says what can be chosen",
                  list ? "leave it out" : "write `choices: [ pressed, recordable ]`");
    return;
  }
  if (!list) return;
  question.choices = reader.fields.texts("choices");
  if (question.choices.size() < 2)
    reader.report("choices", "there is nothing to choose from", "name at least two, as in `[ pressed, recordable ]`");
  for (const yaml::Node& item : list->items) {
    const auto is_of_choice = [](unsigned char c) { return std::isalnum(c) != 0 || c == ' ' || c == '-' || c == '_'; };
    if (item.text.empty() || item.text.front() == ' ' || item.text.back() == ' ' ||
        !std::all_of(item.text.begin(), item.text.end(), is_of_choice))
      reader.report(item, fmt::format("'{}' cannot be a choice", item.text), "use letters, digits, - and _");
    if (std::count(question.choices.begin(), question.choices.end(), item.text) > 1)
      reader.report(item, fmt::format("'{}' stands there twice", item.text), "name each choice once");
  }
}

std::optional<double> read_value(StepReader& reader, bench::Question& question) {
  if (question.kind != AnswerKind::value) {
    for (const std::string_view key : {"allowed", "give or take"})
      if (reader.fields.has(key)) reader.report(key, "only `answer: a value` has it", "leave it out");
    return std::nullopt;
  }
  const auto allowed = reader.text("allowed");
  if (!allowed) {
    reader.report("answer", "nothing says what values can be answered", "write `allowed: 0 V to 5 V`");
    return std::nullopt;
  }
  const auto span = quantity::parse_span(*allowed);
  if (!span) {
    reader.report("allowed", span.error());
    return std::nullopt;
  }
  question.allowed = *span;
  question.allowed_text = *allowed;
  const auto sure = reader.text("give or take");
  if (!sure) {
    if (reader.fields.has("must meet"))
      reader.report("must meet", "nothing says how sure the value is, so it can never pass",
                    "write how well it can be read, as in `give or take: 5 mV`");
    return std::nullopt;
  }
  const auto half_width = quantity::parse_quantity(*sure, span->dimension);
  if (!half_width) {
    reader.report("give or take", half_width.error());
    return std::nullopt;
  }
  if (!(*half_width > 0)) reader.report("give or take", "nobody reads a value exactly", "write a width above zero");
  return *half_width;
}

Given given_by(const bench::Question& question) {
  if (question.kind == AnswerKind::value)
    return {NameKind::reading, question.allowed ? question.allowed->dimension : quantity::Dimension{}};
  Given given{NameKind::answer, {}};
  if (question.kind == AnswerKind::yes_or_no) given.choices = {"yes", "no"};
  if (question.kind == AnswerKind::one_of) given.choices = question.choices;
  return given;
}

ReadStep read(StepReader& reader) {
  const auto text = reader.text("prompt");
  if (!text) return {};
  if (text->empty()) {
    reader.report("prompt", "there is nothing to ask", "write what the operator is to do");
    return {};
  }
  bench::Question question{.text = *text};
  if (const auto wanted = reader.text("answer"))
    question.kind = *std::find_if(kinds.begin(), kinds.end(), [&](AnswerKind k) { return in_words(k) == *wanted; });
  read_choices(reader, question);
  const auto give_or_take = read_value(reader, question);
  if (question.kind == AnswerKind::done) {
    if (reader.fields.has("name it"))
      reader.report("name it", "this prompt gives no answer that could be named",
                    "say which with `answer`, or leave it out");
    return {std::make_shared<Prompt>(std::move(question), give_or_take), {}, {}};
  }
  question.name = reader.text("name it").value_or("");
  const Given given = reader.ok() ? given_by(question) : Given{};
  return {std::make_shared<Prompt>(std::move(question), give_or_take), given, {}};
}

}  // namespace

void register_prompt(Verbs& verbs) {
  registers::Declaration prompt{
      .name = "prompt",
      .about = "ask the operator to do something or to tell something, and wait for the answer",
      .parameters = {.name = "prompt", .about = "a question to the operator", .keys = {}},
      .example = "- prompt: Insert the pressed test disc and start track 2\n  within: 10 min\n",
      .sentence = "Ask the operator: <prompt>"};
  std::vector<std::string> answers;
  answers.reserve(kinds.size());
  for (const AnswerKind kind : kinds) answers.emplace_back(in_words(kind));
  prompt.parameters.keys = {{.name = "prompt",
                             .required = true,
                             .type = yaml::Type::text,
                             .help = "what the operator is to do or to tell",
                             .example = "Insert the pressed test disc and start track 2"},
                            {.name = "answer",
                             .type = yaml::Type::word,
                             .help = "what counts as an answer (usual: done)",
                             .example = "yes or no",
                             .choices = std::move(answers)},
                            {.name = "choices",
                             .type = yaml::Type::texts,
                             .help = "what can be chosen, with `answer: one of`",
                             .example = "[ pressed, recordable ]"},
                            {.name = "allowed",
                             .type = yaml::Type::text,
                             .help = "what the value must lie in, with `answer: a value`",
                             .example = "0 V to 5 V"},
                            {.name = "give or take",
                             .type = yaml::Type::text,
                             .help = "how far off the told value may be; without it nothing made of it can pass",
                             .example = "5 mV"},
                            name_it_key(),
                            must_meet_key(),
                            only_with_key(),
                            within_key(true),
                            otherwise_key()};
  verbs.add(std::move(prompt), read);
}

}  // namespace eyelevel::sequence
