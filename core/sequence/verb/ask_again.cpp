// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/ask_again.hpp"

#include <fmt/format.h>

namespace eyelevel::sequence {

namespace {

constexpr int asked_again_most = 20;

}  // namespace

task<> ask_again(RunContext& context, const Step& step, bench::Question question, const AskWords& words,
                 const std::function<std::string(bench::Answer)>& use) {
  context.progress() = fmt::format("nobody {} \"{}\"", words.done, question.text);
  for (int again = 0; again <= asked_again_most; ++again) {
    context.tell(event::Prompted{.place = step.place,
                                 .text = question.text,
                                 .within_s = base::to_seconds(*step.within),
                                 .wants = std::string(in_words(question.kind)),
                                 .choices = question.choices,
                                 .allowed = question.allowed_text});
    co_await context.announce();
    question.again = use(co_await context.ask(question));
    if (question.again.empty()) co_return;
    context.tell(event::Noted{step.place, "asked again: " + question.again});
    context.progress() = fmt::format("\"{}\" was not {}: {}", question.text, words.done, question.again);
  }
  throw base::Error(base::ErrorCode::no_answer, context.progress(), std::string(words.advice));
}

}  // namespace eyelevel::sequence
