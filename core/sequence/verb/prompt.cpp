// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/prompt.hpp"

#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

class Prompt final : public Action {
 public:
  explicit Prompt(std::string text) : text_(std::move(text)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.tell(event::Prompted{step.place, text_, base::to_seconds(*step.within)});
    co_await context.announce();
    context.progress() = "nobody answered \"" + text_ + "\"";
    const bench::Answer answer = co_await context.ask(text_);
    context.tell(event::Answered{step.place, answer.text, answer.by});
    co_return std::monostate{};
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::no_answer; }
  std::string advice_when_late() const override {
    return "is somebody at the bench? start the run again when they are";
  }

 private:
  std::string text_;
};

ReadStep read(StepReader& reader) {
  const auto text = reader.text("prompt");
  if (!text) return {};
  if (text->empty()) {
    reader.report("prompt", "there is nothing to ask", "write what the operator is to do");
    return {};
  }
  return {std::make_shared<Prompt>(*text), {}, {}};
}

}  // namespace

void register_prompt(Verbs& verbs) {
  registers::Declaration prompt{
      .name = "prompt",
      .about = "ask the operator to do something, and wait for the answer",
      .parameters = {.name = "prompt", .about = "a question to the operator", .keys = {}},
      .example = "- prompt: Insert the pressed test disc and start track 2\n  within: 10 min\n"};
  prompt.parameters.keys = {{.name = "prompt",
                             .required = true,
                             .type = yaml::Type::text,
                             .help = "what the operator is to do",
                             .example = "Insert the pressed test disc and start track 2"},
                            only_with_key(),
                            within_key(true),
                            otherwise_key()};
  verbs.add(std::move(prompt), read);
}

}  // namespace eyelevel::sequence
