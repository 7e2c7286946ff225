// SPDX-License-Identifier: Apache-2.0
#include "core/service/bench_operator.hpp"

#include <fmt/format.h>

#include <utility>

#include "core/service/http/problem.hpp"

namespace eyelevel::service {
namespace {

// Closes the question however the waiting ends.
class Opened {
 public:
  Opened(std::optional<OpenQuestion>& place, OpenQuestion question, const std::function<void()>& changed)
      : place_(place), changed_(changed) {
    place_ = std::move(question);
    changed_();
  }
  Opened(const Opened&) = delete;
  Opened& operator=(const Opened&) = delete;
  ~Opened() {
    place_.reset();
    changed_();
  }

 private:
  std::optional<OpenQuestion>& place_;
  const std::function<void()>& changed_;
};

}  // namespace

task<bench::Answer> BenchOperator::wait(OpenQuestion question) {
  const Opened opened(open_, std::move(question), changed_);
  given_.reset();
  while (!given_) co_await answered_.wait();
  co_return std::move(*given_);
}

task<bench::Answer> BenchOperator::ask(const bench::Question& question) {
  return wait({.number = ++asked_, .question = question, .asked = timeline_.utc()});
}

task<bench::Answer> BenchOperator::ask_to_start(const std::string& text) {
  return wait({.number = ++asked_, .question = {.text = text}, .asked = timeline_.utc(), .starts_a_job = true});
}

void BenchOperator::answer(std::int64_t number, const std::string& text, const std::string& by) {
  if (!open_ || open_->number != number || given_)
    throw http::Problem(409, fmt::format("question {} is not asked any more", number), "read the bench anew");
  if (open_->question.kind == bench::AnswerKind::file)
    throw http::Problem(422, "a file cannot be handed over the network yet", "answer it where the run was begun");
  const auto understood = bench::understood(open_->question, text);
  if (!understood) throw http::Problem(422, understood.error().message, understood.error().suggestion);
  given_ = bench::Answer{text, by.empty() ? "operator at the bench" : by};
  answered_.strike();
}

}  // namespace eyelevel::service
