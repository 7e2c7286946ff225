// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/enclose.hpp"

#include "core/sequence/verb/ask_again.hpp"

namespace eyelevel::sequence {

namespace {

constexpr double likely_photo_s = 30;  // practice value

class Enclose final : public Action {
 public:
  explicit Enclose(bench::Question question) : question_(std::move(question)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    static constexpr AskWords words{"handed over", "see that the file can be read"};
    const std::function<std::string(bench::Answer)> use = [&](bench::Answer answer) -> std::string {
      if (!answer.content || answer.content->empty())
        return answer.why_no_content.empty() ? "nothing is in it" : answer.why_no_content;
      const auto size_bytes = static_cast<std::int64_t>(answer.content->size());
      context.tell(event::Enclosed{step.place, question_.name, question_.text, std::move(answer.text),
                                   std::move(answer.by), size_bytes, std::move(answer.content)});
      return {};
    };
    co_await ask_again(context, step, question_, words, use);
    co_return std::monostate{};
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
