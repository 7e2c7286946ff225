// SPDX-License-Identifier: Apache-2.0
// Goes through the steps of a sequence: one after the other, round after round, or at the same time; each with its
// deadline, its further tries and its `otherwise`. What goes wrong is told at its step, then thrown as base::Error.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "core/base/error.hpp"
#include "core/base/task.hpp"
#include "core/sequence/runner/context.hpp"
#include "core/sequence/runner/step_error.hpp"

namespace eyelevel::sequence {

class Walk {
 public:
  explicit Walk(RunContext& context) : context_(context) {}

  // Returns early where a step finished the sequence.
  task<> steps(std::span<const Step> list) { return steps(list, Around{&context_}); }

  bool finished() const { return finished_; }
  // From here on steps are done again, whatever finished the sequence: for its closing.
  void go_on() { finished_ = false; }
  // Whether what was thrown last is among the events.
  bool is_told() const { return is_told_; }

 private:
  static constexpr int reopened_most = 3;

  // What encloses a step.
  struct Around {
    RunContext* context;
    std::optional<base::Duration> due = {};  // of the enclosing steps, as now() tells it
    const Step* due_of = nullptr;
    const std::string* broken_by = nullptr;  // not empty: the step whose failure broke off what ran beside it
  };
  struct Tried {
    std::optional<base::Error> error;
    std::optional<bool> holds;  // of a Decision
  };

  task<> steps(std::span<const Step> list, Around around);
  task<> between_steps(const Step& next, Around around);
  task<> step(const Step& s, Around around);
  task<> plain(const Step& s, Around around);
  task<> decide(const Step& s, Around around);
  task<> bounded(const Step& s, Around around);
  task<> inside(const Step& s, Around around);
  task<> repeat(const Step& s, Around around);
  task<bool> next_round(const Step& s, Around around, base::Duration begun, std::int64_t& round);
  task<> together(const Step& s, Around around);
  task<> pause(base::Duration until, Around around);

  task<std::optional<base::Error>> tried_again(const Step& s, Around around);
  task<Tried> tried(const Step& s, Around around);
  task<> body_over_lost_links(const Step& s, RunContext& context, Tried& tried);
  task<> body(const Step& s, RunContext& context, Tried& tried);
  void finish_reading(const Step& s, RunContext& context, metrology::Reading& reading);

  // Names that steps would have given, and now do not.
  void pass_over(std::span<const Step> list, const std::string& why);
  base::Error stopped(const Step& s, Around around) const;
  base::Error late(const Step& s, Around around, double elapsed_s) const;
  [[noreturn]] void fail(const Step& s, RunContext& context, const base::Error& error);
  std::string where(const Step& s) const { return place_in_words(context_.sequence().file, s.place); }
  // On the timeline, without the time in which the run was paused.
  base::Duration now() const { return context_.timeline().now() - paused_; }

  RunContext& context_;
  bool finished_ = false;
  bool is_told_ = false;
  int reopened_ = 0;                            // lost connections, in this run
  base::Duration paused_{};                     // altogether
  std::optional<base::Duration> paused_since_;  // on the timeline; steps at the same time pause together
};

}  // namespace eyelevel::sequence
