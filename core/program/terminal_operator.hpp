// SPDX-License-Identifier: Apache-2.0
// The person at the terminal: prompts go to stderr, an empty line or any text answers. And the one who is not there: a
// file that holds the answers, in order.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "core/bench/operator.hpp"
#include "core/sequence/language/sequence.hpp"

namespace eyelevel::program {

// `by` is who answers; empty: "operator at the terminal".
std::unique_ptr<bench::Operator> terminal_operator(const boost::asio::any_io_executor& executor, const std::string& by);

// What a sequence asks at its start, in one line; throws base::Error(no_answer) when the input ends.
std::string ask_at_start(const sequence::Asked& asked);

// `answers:` with a list, one for each prompt in turn; or with answers by the name that the sequence has for them, or
// by the text of the prompt.
struct ReadyAnswers {
  std::vector<std::string> in_order;
  std::map<std::string, std::string> by_name;
};
// Throws base::Error(bad_input) when the file is wrong.
ReadyAnswers read_answers(const std::string& path);
// A prompt for which there is no answer, or one that is none, is Error(no_answer). By name, prompts that only want
// something done are answered `done`. `by` is who wrote it; empty: the file.
std::unique_ptr<bench::Operator> answers_from_file(const std::string& path, const std::string& by);

}  // namespace eyelevel::program
