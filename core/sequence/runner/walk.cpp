// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/walk.hpp"

#include <fmt/format.h>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/deferred.hpp>
#include <boost/asio/experimental/parallel_group.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "core/base/deadline.hpp"
#include "core/sequence/runner/cancelled.hpp"
#include "core/sequence/runner/control.hpp"
#include "core/sequence/runner/reopen.hpp"

namespace eyelevel::sequence {
namespace asio = boost::asio;
using base::ErrorCode;
using metrology::Judgement;
using metrology::Reading;

task<> Walk::steps(std::span<const Step> list, Around around) {
  for (const Step& s : list) {
    if (finished_) co_return;
    co_await between_steps(s, around);
    if (around.due && now() >= *around.due)
      fail(*around.due_of, *around.context, late(*around.due_of, around, base::to_seconds(*around.due_of->within)));
    co_await step(s, around);
  }
}

// Where the run can be held, stopped, and resumed.
task<> Walk::between_steps(const Step& next, Around around) {
  RunContext& context = *around.context;
  RunControl* control = next.place.part == "closing" ? nullptr : context.control();
  if (control && control->is_paused()) {
    if (!paused_since_) paused_since_ = context.timeline().now();
    context.tell(event::Noted{next.place, "paused before this step"});
    co_await context.announce();
    while (control->is_paused()) co_await control->changed();
    if (paused_since_) paused_ += context.timeline().now() - *std::exchange(paused_since_, std::nullopt);
    context.tell(event::Noted{next.place, control->stops() ? "not gone on with" : "going on"});
    co_await context.announce();
  }
  if (control && control->stops()) fail(next, context, stopped_at(where(next)));
  if (context.control()) context.control()->come_to(next.place);
  if (!next.resume_here) co_return;
  context.tell(context.reached(next.place));
  co_await context.announce();
}

task<> Walk::step(const Step& s, Around around) {
  if (s.flow == Flow::none) return plain(s, around);
  if (s.flow == Flow::decide) return decide(s, around);
  return bounded(s, around);
}

task<> Walk::plain(const Step& s, Around around) {
  RunContext& context = *around.context;
  const std::optional<base::Error> error = co_await tried_again(s, around);
  if (error) {
    context.tell(event::BrokenOff{s.place, error->record()});
    is_told_ = !s.has_otherwise || ends_the_run(*error);
    if (!s.name_it.empty()) context.lose(s.name_it, fmt::format("\"{}\" broke off", s.place.text));
    // A bench is not proven by what could not be looked at.
    if (!context.sequence().proves.empty()) context.run_cannot_pass();
  }
  const auto& judged = context.step_judgements();
  const bool did_not_meet = std::any_of(judged.begin(), judged.end(), [](Judgement j) { return j != Judgement::pass; });
  context.end_step();
  co_await context.announce();
  if ((error || did_not_meet) && s.has_otherwise && !(error && ends_the_run(*error))) {
    co_await steps(s.otherwise, around);
  } else if (error) {
    throw base::Error(*error);
  }
}

task<std::optional<base::Error>> Walk::tried_again(const Step& s, Around around) {
  RunContext& context = *around.context;
  for (std::int64_t left = s.again.times;; --left) {
    const Tried tried = co_await this->tried(s, around);
    const auto& judged = context.step_judgements();
    const auto missed = std::find_if(judged.begin(), judged.end(), [](Judgement j) { return j != Judgement::pass; });
    const bool came_about = !tried.error && missed == judged.end();
    if (came_about || left == 0 || (tried.error && ends_the_run(*tried.error))) co_return tried.error;
    context.tell(event::Noted{
        s.place, fmt::format("trying again, {} left: {}", left,
                             tried.error ? tried.error->record().message : "did not meet its limit for sure")});
    co_await context.announce();
    co_await pause(now() + s.again.after, around);
  }
}

task<> Walk::decide(const Step& s, Around around) {
  RunContext& context = *around.context;
  const Tried tried = co_await this->tried(s, around);
  if (tried.error) fail(s, context, *tried.error);
  co_await context.announce();
  const std::string why = fmt::format("\"{}\" went the other way", s.place.text);
  if (tried.holds != true) pass_over(s.inside, why);
  if (tried.holds != false) pass_over(s.otherwise, why);
  if (tried.holds) co_await steps(*tried.holds ? s.inside : s.otherwise, around);
}

task<> Walk::bounded(const Step& s, Around outer) {
  Around around = outer;
  if (s.within && (!outer.due || now() + *s.within < *outer.due)) {
    around.due = now() + *s.within;
    around.due_of = &s;
  }
  std::optional<base::Error> error;
  try {
    co_await inside(s, around);
  } catch (const base::Error& e) {
    error.emplace(e);
  }
  if (!error) co_return;
  if (!s.has_otherwise || ends_the_run(*error)) throw base::Error(*error);
  is_told_ = false;
  pass_over(s.inside, fmt::format("\"{}\" broke off", s.place.text));
  co_await steps(s.otherwise, outer);
}

task<> Walk::inside(const Step& s, Around around) {
  if (s.flow == Flow::repeat) return repeat(s, around);
  if (s.flow == Flow::together) return together(s, around);
  return steps(s.inside, around);
}

task<> Walk::repeat(const Step& s, Around around) {
  RunContext& context = *around.context;
  const base::Duration begun = now();
  std::int64_t done = 0;
  for (std::int64_t round = 0; co_await next_round(s, around, begun, round); ++round) {
    co_await steps(s.inside, around);
    ++done;
    if (finished_) co_return;
    if (!s.action) continue;
    const Tried tried = co_await this->tried(s, around);
    if (tried.error) fail(s, context, *tried.error);
    co_await context.announce();
    if (tried.holds.value_or(false)) co_return;
  }
  if (!s.action) co_return;
  base::ErrorRecord record;
  record.code = ErrorCode::wait_ran_out;
  record.where = where(s);
  record.message = fmt::format("did not come about in {} rounds", done);
  record.advice = "say with `otherwise` what is to be done then, or let it go round more often";
  fail(s, context, base::Error(record));
}

// Waits for round `round` (from 0); false when there is none. Rounds whose moment has passed are left out and told.
task<bool> Walk::next_round(const Step& s, Around around, base::Duration begun, std::int64_t& round) {
  if (round == 0) co_return s.rounds.times > 0;
  base::Duration next = now() + s.rounds.pause;
  if (s.rounds.every) {
    const std::int64_t first = (now() - begun + *s.rounds.every - base::Duration(1)) / *s.rounds.every;
    if (first > round) {
      around.context->tell(
          event::Noted{s.place, fmt::format("left out {} of its rounds: the one before took too long", first - round)});
      round = first;
    }
    next = begun + round * *s.rounds.every;
  }
  if (round >= s.rounds.times) co_return false;
  co_await pause(next, around);
  co_return true;
}

// Ends early when the enclosing steps' time is over; the next step says so.
task<> Walk::pause(base::Duration until, Around around) {
  co_await context_.timeline().sleep_until((around.due ? std::min(until, *around.due) : until) + paused_);
}

// Each step of the list on its own, with its own context. The first that fails breaks off the others, and this ends
// when all have ended.
task<> Walk::together(const Step& s, Around around) {
  const auto executor = co_await asio::this_coro::executor;
  std::vector<RunContext> contexts(s.inside.size(), *around.context);
  std::string broken_by;
  const auto one = [this, &broken_by](const Step& branch, Around own) -> task<> {
    std::optional<base::Error> error;
    try {
      co_await step(branch, own);
    } catch (const base::Error& e) {
      error.emplace(e);
    }
    if (!error) co_return;
    if (broken_by.empty()) broken_by = branch.place.text;
    throw base::Error(*error);
  };
  using Branch = decltype(asio::co_spawn(executor, one(s, around), asio::deferred));
  std::vector<Branch> branches;
  for (std::size_t i = 0; i < s.inside.size(); ++i) {
    Around own = around;
    own.context = &contexts[i];
    own.broken_by = &broken_by;
    branches.push_back(asio::co_spawn(executor, one(s.inside[i], own), asio::deferred));
  }
  const auto [order, failures] = co_await asio::experimental::make_parallel_group(std::move(branches))
                                     .async_wait(asio::experimental::wait_for_one_error(), asio::use_awaitable);
  for (const std::size_t i : order)
    if (failures[i]) std::rethrow_exception(failures[i]);
}

// One try of one step with its deadline; what went wrong as an error with the step's place in front.
task<Walk::Tried> Walk::tried(const Step& s, Around around) {
  RunContext& context = *around.context;
  Tried tried;
  std::exception_ptr failure;
  std::optional<std::string> left_out;
  const base::Duration from = now();
  Around own = around;
  if (s.flow == Flow::none && s.within && (!around.due || from + *s.within < *around.due)) {
    own.due = from + *s.within;
    own.due_of = &s;
  }
  context.begin_step(s, own.due ? std::optional(*own.due + paused_) : std::nullopt);
  bool in_time = true;
  try {
    if (!s.only_with.empty()) context.require(s.only_with);
    if (own.due) {
      in_time =
          co_await base::finished_within(context.timeline(), *own.due - from, body_over_lost_links(s, context, tried));
    } else {
      co_await body_over_lost_links(s, context, tried);
    }
  } catch (const LeftOut& e) {
    left_out = e.why;
  } catch (...) {
    failure = std::current_exception();
  }
  if (is_cancelled(co_await asio::this_coro::cancellation_state)) {
    co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
    tried.error = stopped(s, around);
    co_return tried;
  }
  if (left_out) {
    context.tell(event::Noted{s.place, "left out: " + *left_out});
    if (!s.name_it.empty()) context.lose(s.name_it, *left_out);
  }
  if (failure) {
    tried.error = translated(failure, where(s));
  } else if (!in_time) {
    tried.error = late(s, own, base::to_seconds(now() - from));
  }
  co_return tried;
}

base::Error Walk::stopped(const Step& s, Around around) const {
  if (!around.broken_by || around.broken_by->empty()) return stopped_at(where(s));
  base::ErrorRecord record;
  record.code = ErrorCode::stopped;
  record.where = where(s);
  record.message = fmt::format("broken off: \"{}\", which ran at the same time, did not come about", *around.broken_by);
  record.advice = "see what went wrong there";
  return base::Error(record);
}

base::Error Walk::late(const Step& s, Around around, double elapsed_s) const {
  base::ErrorRecord record;
  record.code = s.action ? s.action->when_late() : ErrorCode::wait_ran_out;
  record.where = where(s);
  record.message = fmt::format("did not come about within {:.4g} s", base::to_seconds(*around.due_of->within));
  if (around.due_of != &s) record.message += fmt::format(", the time of \"{}\"", around.due_of->place.text);
  if (!around.context->progress().empty()) record.message += "; " + around.context->progress();
  record.elapsed_s = elapsed_s;
  record.advice =
      s.action ? s.action->advice_when_late() : "give it more time with `within`, or see why it takes so long";
  return base::Error(record);
}

// A step whose connection was lost begins anew over one that was opened again, a few times in a run at most. What the
// closing does must not wait for that: it clears the links by itself. Nor is anything switched on again unasked.
task<> Walk::body_over_lost_links(const Step& s, RunContext& context, Tried& tried) {
  for (;;) {
    std::optional<base::ErrorRecord> lost;
    try {
      co_await body(s, context, tried);
    } catch (const base::Error& error) {
      const bool may_go_on = s.place.part != "closing" && reopened_ < reopened_most && context.is_all_off();
      if (error.record().code != ErrorCode::connection_lost || !may_go_on) throw;
      lost = error.record();
    }
    if (!lost) co_return;
    ++reopened_;
    co_await reopen(context, s.place, *lost);
  }
}

task<> Walk::body(const Step& s, RunContext& context, Tried& tried) {
  Result result = co_await s.action->run(context, s);
  if (std::holds_alternative<std::monostate>(result)) co_return;
  if (const auto* decision = std::get_if<Decision>(&result)) {
    tried.holds = decision->holds;
    context.tell(event::Noted{s.place, fmt::format("{}: {}", decision->holds ? "yes" : "no", decision->because)});
    co_return;
  }
  if (const auto* finish = std::get_if<Finish>(&result)) {
    finished_ = true;
    if (finish->judgement) context.judge_run(*finish->judgement);
    co_return;
  }
  if (auto* reading = std::get_if<Reading>(&result)) finish_reading(s, context, *reading);
  if (!s.name_it.empty()) context.keep(s.name_it, std::move(result));
}

void Walk::finish_reading(const Step& s, RunContext& context, Reading& reading) {
  const std::string given = reading.name;
  reading.name = s.name_it.empty() ? given : s.name_it;
  context.is_now_called(given, reading.name);
  context.tell(event::Measured{s.place, reading});
  if (s.must_meet) context.judge(s.place, reading, *s.must_meet);
  if (s.name_it.empty()) context.is_forgotten(given);
}

void Walk::pass_over(std::span<const Step> list, const std::string& why) {
  for (const Step& s : list) {
    if (!s.name_it.empty()) context_.lose(s.name_it, why);
    pass_over(s.inside, why);
    pass_over(s.otherwise, why);
  }
}

void Walk::fail(const Step& s, RunContext& context, const base::Error& error) {
  context.tell(event::BrokenOff{s.place, error.record()});
  is_told_ = true;
  throw base::Error(error);
}

}  // namespace eyelevel::sequence
