// SPDX-License-Identifier: Apache-2.0
// The person at the terminal: prompts go to stderr, an empty line or any text answers. And the one who is not there: a
// file that holds the answers, in order.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <memory>
#include <string>

#include "core/bench/operator.hpp"
#include "core/sequence/language/sequence.hpp"

namespace eyelevel::program {

std::unique_ptr<bench::Operator> terminal_operator(const boost::asio::any_io_executor& executor);

// What a sequence asks at its start, in one line; throws base::Error(no_answer) when the input ends.
std::string ask_at_start(const sequence::Asked& asked);

// `answers:` with a list, one for each prompt in turn. Throws base::Error(bad_input) when the file is wrong; a prompt
// for which no answer is left is Error(no_answer).
std::unique_ptr<bench::Operator> answers_from_file(const std::string& path);

}  // namespace eyelevel::program
