// SPDX-License-Identifier: Apache-2.0
#include "core/bench/operator.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "core/quantity/trimmed.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::bench {

namespace {

constexpr std::size_t longest_code = 200;

std::string lower(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return out;
}

quantity::TextError no_answer(const Question& question, std::string_view answer) {
  return {0, answer.empty() ? std::string("nothing was answered") : fmt::format("'{}' is no answer to it", answer),
          "answer " + what_to_answer(question)};
}

quantity::Parsed<std::string> one_of(const Question& question, std::string_view answer) {
  for (const std::string& choice : question.choices)
    if (lower(choice) == lower(answer)) return choice;
  const auto number = quantity::parse_count(answer);
  if (number && *number >= 1 && static_cast<std::size_t>(*number) <= question.choices.size())
    return question.choices[static_cast<std::size_t>(*number) - 1];
  return no_answer(question, answer);
}

quantity::Parsed<std::string> value(const Question& question, std::string_view answer) {
  const auto parsed = quantity::parse_quantity(answer, question.allowed->dimension);
  if (!parsed) return parsed.error();
  if (!question.allowed->contains(*parsed))
    return quantity::TextError{0, fmt::format("{} is not allowed", answer),
                               fmt::format("it must be {}", question.allowed_text)};
  return std::string(answer);
}

}  // namespace

std::string_view in_words(AnswerKind kind) {
  switch (kind) {
    case AnswerKind::done: return "done";
    case AnswerKind::yes_or_no: return "yes or no";
    case AnswerKind::one_of: return "one of";
    case AnswerKind::value: return "a value";
    case AnswerKind::code: return "a code";
    case AnswerKind::text: return "a text";
    case AnswerKind::file: return "a file";
  }
  return "";
}

std::string what_to_answer(const Question& question) {
  if (question.kind == AnswerKind::one_of) return yaml::one_of(question.choices);
  if (question.kind == AnswerKind::file) return "the name of a file";
  if (question.kind == AnswerKind::value) return "a value, " + question.allowed_text;
  return std::string(in_words(question.kind));
}

quantity::Parsed<std::string> understood(const Question& question, std::string_view answer) {
  const std::string_view said = quantity::trimmed(answer);
  switch (question.kind) {
    case AnswerKind::done: return std::string(answer);
    case AnswerKind::one_of: return one_of(question, said);
    case AnswerKind::value: return value(question, said);
    case AnswerKind::yes_or_no:
      if (lower(said) == "yes" || lower(said) == "y") return std::string("yes");
      if (lower(said) == "no" || lower(said) == "n") return std::string("no");
      return no_answer(question, said);
    case AnswerKind::code:
      if (said.size() > longest_code)
        return quantity::TextError{0, fmt::format("{} characters are no code", said.size()), "scan it once"};
      [[fallthrough]];
    case AnswerKind::text:
    case AnswerKind::file:
      if (said.empty()) return no_answer(question, said);
      return std::string(said);
  }
  return no_answer(question, said);
}

}  // namespace eyelevel::bench
