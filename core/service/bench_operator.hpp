// SPDX-License-Identifier: Apache-2.0
// The person at a bench who is asked and answers over the network. One question at a time; each has a number, so that
// an answer that comes late is not taken for one to the next question. One loop.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>

#include "core/base/gong.hpp"
#include "core/base/timeline.hpp"
#include "core/bench/operator.hpp"

namespace eyelevel::service {

struct OpenQuestion {
  std::int64_t number = 0;
  bench::Question question;
  base::UtcTime asked{};
  bool starts_a_job = false;  // a person at the bench says that it may begin
};

class BenchOperator final : public bench::Operator {
 public:
  // `changed` is called whenever a question opens or closes.
  BenchOperator(base::Timeline& timeline, std::function<void()> changed)
      : timeline_(timeline), changed_(std::move(changed)) {}

  task<bench::Answer> ask(const bench::Question& question) override;
  task<bench::Answer> ask_to_start(const std::string& text);

  const std::optional<OpenQuestion>& open() const { return open_; }

  // Throws http::Problem: 409 when this question is not (any more) asked, 422 when it is no answer to it.
  void answer(std::int64_t number, const std::string& text, const std::string& by);

 private:
  task<bench::Answer> wait(OpenQuestion question);

  base::Timeline& timeline_;
  std::function<void()> changed_;
  std::int64_t asked_ = 0;
  std::optional<OpenQuestion> open_;
  std::optional<bench::Answer> given_;
  base::Gong answered_;
};

}  // namespace eyelevel::service
