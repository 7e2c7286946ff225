// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/enclose.hpp"

#include <fmt/format.h>

#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

constexpr int asked_again_most = 20;
constexpr double likely_photo_s = 30;  // practice value

class Enclose final : public Action {
 public:
  explicit Enclose(bench::Question question) : question_(std::move(question)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    bench::Question question = question_;
    for (int again = 0; again <= asked_again_most; ++again) {
      context.progress() = fmt::format("nobody handed over \"{}\"", question.text);
      context.tell(event::Prompted{.place = step.place,
                                   .text = question.text,
                                   .within_s = base::to_seconds(*step.within),
                                   .wants = std::string(in_words(question.kind))});
      co_await context.announce();
      bench::Answer answer = co_await context.ask(question);
      if (answer.content && !answer.content->empty()) {
        const auto size_bytes = static_cast<std::int64_t>(answer.content->size());
        context.tell(event::Enclosed{step.place, question.name, question.text, std::move(answer.text),
                                     std::move(answer.by), size_bytes, std::move(answer.content)});
        co_return std::monostate{};
      }
      question.again = answer.why_no_content.empty() ? "nothing is in it" : answer.why_no_content;
      context.tell(event::Noted{step.place, "asked again: " + question.again});
    }
    throw base::Error(base::ErrorCode::no_answer,
                      fmt::format("\"{}\" was not handed over: {}", question.text, question.again),
                      "see that the file can be read");
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::no_answer; }
  std::string advice_when_late() const override {
    return "is somebody at the bench? start the run again when they are";
  }
  double likely_s() const override { return likely_photo_s; }
  const bench::Question* asks() const override { return &question_; }

 private:
  bench::Question question_;
};

ReadStep read(StepReader& reader) {
  const auto what = reader.text("enclose");
  if (!what) return {};
  if (what->empty()) {
    reader.report("enclose", "there is nothing to hand over", "write what it is, as in `photo of the lens`");
    return {};
  }
  bench::Question question{.text = *what, .kind = bench::AnswerKind::file};
  question.name = reader.text("as").value_or("");
  return {std::make_shared<Enclose>(std::move(question)), {}, {}};
}

}  // namespace

void register_enclose(Verbs& verbs) {
  registers::Declaration enclose{
      .name = "enclose",
      .about = "let the operator hand over a file, a photo or a text, and put it into the record",
      .parameters = {.name = "enclose", .about = "something for the record", .keys = {}},
      .example = "- enclose: photo of the lens before cleaning\n  as: lens_before\n  within: 10 min\n",
      .sentence = "Let the operator hand over: <enclose>"};
  enclose.parameters.keys = {{.name = "enclose",
                              .required = true,
                              .type = yaml::Type::text,
                              .help = "what is to be handed over",
                              .example = "photo of the lens before cleaning"},
                             {.name = "as",
                              .type = yaml::Type::word,
                              .help = "what it is called in the record and when it is exported",
                              .example = "lens_before"},
                             only_with_key(),
                             within_key(true),
                             otherwise_key()};
  verbs.add(std::move(enclose), read);
}

}  // namespace eyelevel::sequence
