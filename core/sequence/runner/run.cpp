// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/run.hpp"

#include <fmt/format.h>
#include <boost/asio/this_coro.hpp>

#include "core/bench/bench_file.hpp"
#include "core/bench/model_sheet.hpp"
#include "core/sequence/runner/cancelled.hpp"
#include "core/sequence/runner/connect.hpp"
#include "core/sequence/runner/context.hpp"
#include "core/sequence/runner/step_error.hpp"
#include "core/sequence/runner/walk.hpp"

namespace eyelevel::sequence {
namespace asio = boost::asio;
using base::ErrorCode;
using metrology::Judgement;
using metrology::Reading;

namespace {

class Runner {
 public:
  Runner(const Sequence& sequence, RunSetting setting, event::Journal& journal, std::vector<event::Listener*> listeners)
      : sequence_(sequence),
        setting_(std::move(setting)),
        context_({setting_.timeline, setting_.operator_, journal, std::move(listeners), setting_.run, setting_.seed,
                  sequence, setting_.bench, setting_.model, setting_.control}),
        walk_(context_) {}

  task<RunResult> all() {
    result_.run = setting_.run;
    result_.begun_s = context_.now_s();
    const bool open = co_await came_about(begin(), "the beginning");
    if (open && co_await came_about(walk_.steps(sequence_.opening), "the opening"))
      co_await came_about(walk_.steps(steps_to_do()), "the steps");
    walk_.go_on();  // the closing is done whatever happened
    // From here on nobody can stop it any more.
    co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
    for (const Step& s : sequence_.closing) co_await came_about(walk_.steps({&s, 1}), "the closing");
    co_await came_about(make_safe_what_is_left(), "making the instruments safe");
    co_await came_about(close(), "closing the record");
    co_await asio::this_coro::reset_cancellation_state(asio::enable_terminal_cancellation());
    for (OpenInstrument& i : context_.instruments())
      if (i.instrument) i.instrument->close();
    co_return std::move(result_);
  }

 private:
  static constexpr base::Duration safe_limit = std::chrono::seconds(10);

  // Runs a part; an error is kept (the first one) and not thrown further. After a cancellation nothing else of the run
  // can be cancelled, so that it closes.
  task<bool> came_about(task<> part, const char* what) {
    std::exception_ptr failure;
    try {
      co_await std::move(part);
    } catch (...) {
      failure = std::current_exception();
    }
    // Here and in tried() in full: a coroutine of its own could not be awaited in the cancelled state.
    if (is_cancelled(co_await asio::this_coro::cancellation_state)) {
      co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
      failure = std::make_exception_ptr(stopped_at(what));
    }
    if (!failure) co_return true;
    const base::Error error = is_error(failure) ? as_error(failure) : translated(failure, what);
    if (!result_.error) {
      result_.error = error.record();
      // What no step has told: an instrument that was not reached, a stop between two steps.
      if (!walk_.is_told() && !is_told_)
        context_.tell(event::BrokenOff{event::Place{{}, 0, "run", what}, error.record()});
    }
    co_return false;
  }

  static bool is_error(const std::exception_ptr& failure) {
    try {
      std::rethrow_exception(failure);
    } catch (const base::Error&) {
      return true;
    } catch (...) {
      return false;
    }
  }
  static base::Error as_error(const std::exception_ptr& failure) {
    try {
      std::rethrow_exception(failure);
    } catch (const base::Error& e) {
      return e;
    }
  }

  std::span<const Step> steps_to_do() {
    std::span<const Step> steps(sequence_.steps);
    if (!setting_.reached) return steps;
    context_.resume(*setting_.reached);
    const auto first = static_cast<std::size_t>(std::max(setting_.reached->place.number - 1, 0));
    return steps.subspan(std::min(first, steps.size()));
  }

  task<> begin() {
    std::vector<event::GivenAtStart> given;
    for (const Asked& asked : sequence_.asked) given.push_back({asked.name, asked.text});
    context_.tell(event::Begun{.sequence = sequence_.name,
                               .about = sequence_.about,
                               .file = sequence_.file,
                               .source = sequence_.source,
                               .parts = sequence_.parts,
                               .given = std::move(given),
                               .bench = setting_.bench.name,
                               .serial = setting_.serial,
                               .model = setting_.model ? setting_.model->model : std::string(),
                               .cautions = sequence_.cautions,
                               .seed = setting_.rehearsal_seed,
                               .proves = sequence_.proves,
                               .proof = setting_.proof,
                               .goes_on_from = setting_.goes_on_from});
    co_await context_.announce();
    co_await connect(context_, setting_.open, result_.instruments);
    co_await context_.announce();
  }

  task<> make_safe_what_is_left() {
    std::optional<base::Error> first;
    for (OpenInstrument& i : context_.instruments()) {
      if (!i.instrument || i.is_safe) continue;
      std::exception_ptr failure;
      try {
        co_await i.instrument->make_safe(safe_limit);
        i.is_safe = true;
      } catch (...) {
        failure = std::current_exception();
      }
      if (!failure) continue;
      const base::Error error = translated(failure, fmt::format("making {} safe", i.need.role));
      is_told_ = true;
      context_.tell(
          event::BrokenOff{event::Place{.part = "closing", .verb = "make safe", .text = i.need.role}, error.record()});
      if (!first) first = error;
    }
    if (first) throw base::Error(*first);
  }

  task<> close() {
    result_.readings = context_.readings();
    result_.proofs = context_.proofs();
    result_.ended = result_.error ? "stopped" : "finished";
    if (!result_.error) result_.judgement = context_.judgement();
    result_.closed_s = context_.now_s();
    context_.tell(event::Closed{result_.ended, result_.judgement});
    try {
      co_await context_.announce();
    } catch (...) {
      result_.ended = "stopped";
      result_.judgement.reset();
      throw;
    }
  }

  const Sequence& sequence_;
  RunSetting setting_;
  RunContext context_;
  RunResult result_;
  Walk walk_;
  bool is_told_ = false;  // an instrument that was not made safe
};

}  // namespace

task<RunResult> run(const Sequence& sequence, RunSetting setting, event::Journal& journal,
                    std::vector<event::Listener*> listeners) {
  const auto runner = std::make_unique<Runner>(sequence, std::move(setting), journal, std::move(listeners));
  co_return co_await runner->all();
}

}  // namespace eyelevel::sequence
