// SPDX-License-Identifier: Apache-2.0
#include "core/program/terminal_operator.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <cstdio>
#include <vector>

#include "core/base/error.hpp"
#include "core/program/output.hpp"
#include "core/yaml/load.hpp"

namespace eyelevel::program {
namespace asio = boost::asio;
namespace {

constexpr std::size_t longest_answer = 4096;

class Terminal final : public bench::Operator {
 public:
  explicit Terminal(const asio::any_io_executor& executor) : input_(executor, ::dup(STDIN_FILENO)) {}

  task<bench::Answer> ask(const std::string& text) override {
    put(stderr, fmt::format("\n  >>  {}\n      then press Enter: ", text));
    if (std::ferror(stderr) != 0)
      throw base::Error(base::ErrorCode::no_answer,
                        fmt::format("the prompt \"{}\" could not be shown: standard error cannot be written", text),
                        "run it in a terminal, or name a file of answers with --answers");
    boost::system::error_code error;
    const auto length = co_await asio::async_read_until(input_, asio::dynamic_buffer(typed_, longest_answer), '\n',
                                                        asio::redirect_error(asio::use_awaitable, error));
    if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
    if (error)
      throw base::Error(base::ErrorCode::no_answer,
                        fmt::format("the prompt \"{}\" was not answered: the input ended", text),
                        "run it in a terminal, or name a file of answers with --answers");
    std::string line = typed_.substr(0, length - 1);
    typed_.erase(0, length);
    co_return bench::Answer{line.empty() ? "done" : line, "operator at the terminal"};
  }

 private:
  asio::posix::stream_descriptor input_;
  std::string typed_;
};

class Answers final : public bench::Operator {
 public:
  Answers(std::string file, std::vector<std::string> answers) : file_(std::move(file)), answers_(std::move(answers)) {}

  task<bench::Answer> ask(const std::string& text) override {
    if (next_ == answers_.size())
      throw base::Error(
          base::ErrorCode::no_answer,
          fmt::format("{} holds {} answers, and \"{}\" is prompt {}", file_, answers_.size(), text, next_ + 1),
          "add an answer to the file");
    co_return bench::Answer{answers_[next_++], file_};
  }

 private:
  std::string file_;
  std::vector<std::string> answers_;
  std::size_t next_ = 0;
};

}  // namespace

std::unique_ptr<bench::Operator> terminal_operator(const asio::any_io_executor& executor) {
  return std::make_unique<Terminal>(executor);
}

std::string ask_at_start(const sequence::Asked& asked) {
  std::string of = asked.allowed_text.empty() ? "" : fmt::format(", {}", asked.allowed_text);
  if (!asked.usual.empty()) of += fmt::format("; Enter takes {}", asked.usual);
  put(stderr, fmt::format("  >>  {}: {}{}: ", asked.name, asked.about, of));
  std::string line;
  for (char c = 0; ::read(STDIN_FILENO, &c, 1) == 1;) {
    if (c == '\n') return line;
    line += c;
    if (line.size() > longest_answer) break;
  }
  throw base::Error(base::ErrorCode::no_answer, fmt::format("nobody said what {} is", asked.name),
                    fmt::format("say it with --set {}=VALUE", asked.name));
}

std::unique_ptr<bench::Operator> answers_from_file(const std::string& path) {
  auto document = yaml::load_file(path);
  std::vector<std::string> answers;
  const auto* list = document.root.find("answers");
  if (document.mistakes.fine() && (list == nullptr || list->shape != yaml::Shape::list))
    document.mistakes.add({1, 1}, "a file of answers holds a list under `answers:`", "answers: [done, done]");
  if (list != nullptr)
    for (const auto& item : list->items) {
      if (item.shape == yaml::Shape::text)
        answers.push_back(item.text);
      else
        document.mistakes.add(item.mark, "an answer is one line of text", "done");
    }
  if (!document.mistakes.fine()) {
    std::string text;
    for (const auto& mistake : document.mistakes.list()) text += yaml::print(mistake) + "\n";
    throw base::Error(base::ErrorCode::bad_input, text + path + " cannot be used as it stands; nothing was touched");
  }
  return std::make_unique<Answers>(path, std::move(answers));
}

}  // namespace eyelevel::program
