// SPDX-License-Identifier: Apache-2.0
#include "core/program/terminal_operator.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <vector>

#include "core/base/error.hpp"
#include "core/program/output.hpp"
#include "core/yaml/load.hpp"

namespace eyelevel::program {
namespace asio = boost::asio;
namespace {

constexpr std::size_t longest_answer = 4096;
constexpr std::uintmax_t largest_enclosure = std::uintmax_t{16} << 20;

std::string shown(const bench::Question& question) {
  std::string text = question.again.empty() ? "" : fmt::format("      {}\n", question.again);
  if (question.kind == bench::AnswerKind::done)
    return text + fmt::format("\n  >>  {}\n      then press Enter: ", question.text);
  text += fmt::format("\n  >>  {}\n", question.text);
  for (std::size_t i = 0; i < question.choices.size(); ++i)
    text += fmt::format("      {}  {}\n", i + 1, question.choices[i]);
  return text + fmt::format("      {}: ", question.kind == bench::AnswerKind::one_of ? "its number or its name"
                                                                                     : what_to_answer(question));
}

// The file whose name was answered. A terminal into which a file is dragged writes it with quotes or a space behind it.
void read_into(bench::Answer& answer) {
  std::string_view path = answer.text;
  while (!path.empty() && path.back() == ' ') path.remove_suffix(1);
  if (path.size() >= 2 && path.front() == path.back() && (path.front() == '\'' || path.front() == '"'))
    path = path.substr(1, path.size() - 2);
  const std::filesystem::path file(path);
  std::error_code error;
  const auto size = std::filesystem::file_size(file, error);
  if (error) {
    answer.why_no_content = fmt::format("'{}' cannot be read: {}", path, error.message());
  } else if (size > largest_enclosure) {
    answer.why_no_content =
        fmt::format("'{}' has {} bytes, at most {} go into the record", path, size, largest_enclosure);
  } else {
    std::ifstream in(file, std::ios::binary);
    std::string content(static_cast<std::size_t>(size), '\0');
    in.read(content.data(), static_cast<std::streamsize>(size));
    if (in) {
      answer.content = std::make_shared<const std::string>(std::move(content));
    } else {
      answer.why_no_content = fmt::format("'{}' cannot be read", path);
    }
  }
  answer.text = file.filename().string();
}

class Terminal final : public bench::Operator {
 public:
  Terminal(const asio::any_io_executor& executor, std::string by)
      : input_(executor, ::dup(STDIN_FILENO)), by_(std::move(by)) {}

  task<bench::Answer> ask(const bench::Question& question) override {
    const std::string& text = question.text;
    put(stderr, shown(question));
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
    if (line.empty() && question.kind == bench::AnswerKind::done) line = "done";
    bench::Answer answer{std::move(line), by_};
    if (question.kind == bench::AnswerKind::file) read_into(answer);
    co_return answer;
  }

 private:
  asio::posix::stream_descriptor input_;
  std::string by_;
  std::string typed_;
};

class Answers final : public bench::Operator {
 public:
  Answers(std::string file, std::string by, ReadyAnswers answers)
      : file_(std::move(file)), by_(std::move(by)), answers_(std::move(answers)) {}

  task<bench::Answer> ask(const bench::Question& question) override {
    if (!question.again.empty())
      throw base::Error(base::ErrorCode::no_answer, fmt::format("{}: {}", file_, question.again), "correct the file");
    bench::Answer answer{answers_.by_name.empty() ? next(question) : named(question), by_};
    if (question.kind == bench::AnswerKind::file) read_into(answer);
    co_return answer;
  }

 private:
  std::string next(const bench::Question& question) {
    if (next_ < answers_.in_order.size()) return answers_.in_order[next_++];
    throw base::Error(base::ErrorCode::no_answer,
                      fmt::format("{} holds {} answers, and \"{}\" is prompt {}", file_, answers_.in_order.size(),
                                  question.text, next_ + 1),
                      "add an answer to the file");
  }
  std::string named(const bench::Question& question) const {
    for (const std::string& known_by : {question.name, question.text})
      if (const auto it = answers_.by_name.find(known_by); it != answers_.by_name.end()) return it->second;
    if (question.kind == bench::AnswerKind::done) return "done";
    throw base::Error(base::ErrorCode::no_answer, fmt::format("{} does not answer \"{}\"", file_, question.text),
                      fmt::format("add `{}: {}` to the file", question.name.empty() ? question.text : question.name,
                                  what_to_answer(question)));
  }

  std::string file_;
  std::string by_;
  ReadyAnswers answers_;
  std::size_t next_ = 0;
};

}  // namespace

std::unique_ptr<bench::Operator> terminal_operator(const asio::any_io_executor& executor, const std::string& by) {
  return std::make_unique<Terminal>(executor, by.empty() ? "operator at the terminal" : by);
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

ReadyAnswers read_answers(const std::string& path) {
  auto document = yaml::load_file(path);
  ReadyAnswers answers;
  const auto* list = document.root.find("answers");
  if (document.mistakes.fine() && (!list || (list->shape != yaml::Shape::list && list->shape != yaml::Shape::map)))
    document.mistakes.add({1, 1}, "a file of answers holds a list, or answers by name, under `answers:`",
                          "answers: [done, done]");
  const auto text_of = [&](const yaml::Node& node) {
    if (node.shape != yaml::Shape::text) document.mistakes.add(node.mark, "an answer is one line of text", "done");
    return node.text;
  };
  if (list != nullptr) {
    for (const auto& item : list->items) answers.in_order.push_back(text_of(item));
    for (const auto& entry : list->entries) answers.by_name.emplace(entry.key, text_of(entry.value));
  }
  if (!document.mistakes.fine()) {
    std::string text;
    for (const auto& mistake : document.mistakes.list()) text += yaml::print(mistake) + "\n";
    throw base::Error(base::ErrorCode::bad_input, text + path + " cannot be used as it stands; nothing was touched");
  }
  return answers;
}

std::unique_ptr<bench::Operator> answers_from_file(const std::string& path, const std::string& by) {
  return std::make_unique<Answers>(path, by.empty() ? path : by, read_answers(path));
}

}  // namespace eyelevel::program
