// SPDX-License-Identifier: Apache-2.0
// The person at the bench, or the simulated one.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/quantity/text.hpp"

namespace eyelevel::bench {

// What counts as an answer. `done`: anything, it only says that the operator is ready.
enum class AnswerKind { done, yes_or_no, one_of, value, code, text, file };

struct Question {
  std::string text;
  AnswerKind kind = AnswerKind::done;
  std::vector<std::string> choices = {};       // of one_of
  std::optional<quantity::Span> allowed = {};  // of value, with its dimension
  std::string allowed_text = {};               // as the sequence has it
  std::string name = {};                       // of the answer in the sequence; may be empty
  std::string again = {};                      // not empty: why the answer before was none
};

struct Answer {
  std::string text;                                 // "done", or what was typed; of a file, its name
  std::string by;                                   // who answered
  std::shared_ptr<const std::string> content = {};  // of a file
  std::string why_no_content = {};
};

class Operator {
 public:
  virtual ~Operator() = default;
  // Shows the question and waits for the answer. Cancelled by the caller when the time is up. Whether the answer is one
  // is for the caller to say, who asks again where it is not.
  virtual task<Answer> ask(const Question& question) = 0;
};

// "yes or no", "one of", ...: as a sequence writes it.
std::string_view in_words(AnswerKind kind);

// What would be an answer, for whoever shows the question: "yes or no", "pressed or recordable", "a value, 0 V to 5 V".
std::string what_to_answer(const Question& question);

// The answer in its one form (`y` is `yes`, `2` is the second choice), or what is wrong with it.
quantity::Parsed<std::string> understood(const Question& question, std::string_view answer);

}  // namespace eyelevel::bench
