// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/run.hpp"

#include <fmt/format.h>
#include <boost/asio/cancellation_state.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/system/system_error.hpp>

#include "core/base/deadline.hpp"
#include "core/bench/bench_file.hpp"
#include "core/bench/model_sheet.hpp"
#include "core/sequence/runner/connect.hpp"
#include "core/sequence/runner/context.hpp"
#include "core/sequence/runner/reopen.hpp"

namespace eyelevel::sequence {
namespace asio = boost::asio;
using base::ErrorCode;
using metrology::Judgement;
using metrology::Reading;

namespace {

std::string place_in_words(const std::string& file, const event::Place& place) {
  return fmt::format("{}:{}:{}: step \"{}\"", file, place.line, place.column, place.text);
}

base::Error error_at(const std::string& where, ErrorCode code, std::string message, std::string advice,
                     std::string cause = {}) {
  base::ErrorRecord record;
  record.code = code;
  record.where = where;
  record.message = std::move(message);
  record.advice = std::move(advice);
  record.cause = std::move(cause);
  return base::Error(record);
}

// Any exception of a step as one error record. The step's place goes in front.
base::Error translated(const std::exception_ptr& failure, const std::string& where) {
  try {
    std::rethrow_exception(failure);
  } catch (base::Error& e) {
    base::Error error = e;
    error.within(where);
    return error;
  } catch (const boost::system::system_error& e) {
    return error_at(where, ErrorCode::connection_lost, "a wait was broken off", "look at the cable and try again",
                    e.code().message());
  } catch (const std::exception& e) {
    return error_at(where, ErrorCode::defect, "the program is at fault", "please report it with this message",
                    e.what());
  }
}

base::Error stopped_at(const std::string& where) {
  return error_at(where, ErrorCode::stopped, "stopped by request; what was measured so far is not judged",
                  "start the run again when the unit is ready");
}

// Nothing that `otherwise` could mend.
bool ends_the_run(const base::Error& error) {
  const ErrorCode code = error.record().code;
  return code == ErrorCode::stopped || code == ErrorCode::not_recording || code == ErrorCode::defect;
}

class Runner {
 public:
  Runner(const Sequence& sequence, RunSetting setting, event::Journal& journal, std::vector<event::Listener*> listeners)
      : sequence_(sequence),
        setting_(std::move(setting)),
        context_({setting_.timeline, setting_.operator_, journal, std::move(listeners), setting_.run, setting_.seed,
                  sequence, setting_.bench, setting_.model}) {}

  task<RunResult> all() {
    result_.run = setting_.run;
    result_.begun_s = context_.now_s();
    const bool open = co_await came_about(begin(), "the beginning");
    if (open && co_await came_about(steps(sequence_.opening), "the opening"))
      co_await came_about(steps(sequence_.steps), "the steps");
    // From here on nobody can stop it any more.
    co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
    for (const Step& s : sequence_.closing) co_await came_about(steps({&s, 1}), "the closing");
    co_await came_about(make_safe_what_is_left(), "making the instruments safe");
    co_await came_about(close(), "closing the record");
    co_await asio::this_coro::reset_cancellation_state(asio::enable_terminal_cancellation());
    for (OpenInstrument& i : context_.instruments())
      if (i.instrument) i.instrument->close();
    co_return std::move(result_);
  }

 private:
  static constexpr int reopened_most = 3;
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
      if (!is_told_) context_.tell(event::BrokenOff{event::Place{{}, 0, "run", what}, error.record()});
    }
    co_return false;
  }

  static bool is_cancelled(const asio::cancellation_state& state) {
    return state.cancelled() != asio::cancellation_type::none;
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

  task<> begin() {
    context_.tell(event::Begun{.sequence = sequence_.name,
                               .about = sequence_.about,
                               .file = sequence_.file,
                               .source = sequence_.source,
                               .bench = setting_.bench.name,
                               .serial = setting_.serial,
                               .model = setting_.model ? setting_.model->model : std::string(),
                               .cautions = sequence_.cautions,
                               .seed = setting_.rehearsal_seed,
                               .proves = sequence_.proves,
                               .proof = setting_.proof});
    co_await context_.announce();
    co_await connect(context_, setting_.open, result_.instruments);
    co_await context_.announce();
  }

  task<> steps(std::span<const Step> list) {
    for (const Step& s : list) co_await step(s);
  }

  task<> step(const Step& s) {
    const std::size_t judged_before = context_.judgements().size();
    const std::optional<base::Error> error = co_await tried(s);
    if (error) {
      context_.tell(event::BrokenOff{s.place, error->record()});
      is_told_ = !s.has_otherwise || ends_the_run(*error);
      if (!s.name_it.empty()) context_.lose(s.name_it, fmt::format("\"{}\" broke off", s.place.text));
      // A bench is not proven by what could not be looked at.
      if (!sequence_.proves.empty()) context_.run_cannot_pass();
    }
    co_await context_.announce();
    const auto& all = context_.judgements();
    const bool did_not_meet = std::any_of(all.begin() + static_cast<std::ptrdiff_t>(judged_before), all.end(),
                                          [](Judgement j) { return j != Judgement::pass; });
    const bool did_not_come_about = error || did_not_meet;
    if (did_not_come_about && s.has_otherwise && !(error && ends_the_run(*error))) {
      co_await steps(s.otherwise);
    } else if (error) {
      throw base::Error(*error);
    }
  }

  // One step with its deadline; what went wrong as a record with the step's place in front.
  task<std::optional<base::Error>> tried(const Step& s) {
    const std::string where = place_in_words(sequence_.file, s.place);
    std::exception_ptr failure;
    std::optional<std::string> left_out;
    context_.begin_step(s);
    const double from_s = context_.now_s();
    bool in_time = true;
    try {
      if (!s.only_with.empty()) context_.require(s.only_with);
      if (s.within) {
        in_time = co_await base::finished_within(setting_.timeline, *s.within, body_over_lost_links(s));
      } else {
        co_await body_over_lost_links(s);
      }
    } catch (const LeftOut& e) {
      left_out = e.why;
    } catch (...) {
      failure = std::current_exception();
    }
    if (is_cancelled(co_await asio::this_coro::cancellation_state)) {
      co_await asio::this_coro::reset_cancellation_state(asio::disable_cancellation());
      co_return stopped_at(where);
    }
    if (left_out) {
      context_.tell(event::Noted{s.place, "left out: " + *left_out});
      if (!s.name_it.empty()) context_.lose(s.name_it, *left_out);
    }
    if (failure) co_return translated(failure, where);
    if (!in_time) co_return late(s, where, context_.now_s() - from_s);
    co_return std::nullopt;
  }

  base::Error late(const Step& s, const std::string& where, double elapsed_s) {
    base::ErrorRecord record;
    record.code = s.action->when_late();
    record.where = where;
    record.message = fmt::format("did not come about within {:.4g} s", base::to_seconds(*s.within));
    if (!context_.progress().empty()) record.message += "; " + context_.progress();
    record.elapsed_s = elapsed_s;
    record.advice = s.action->advice_when_late();
    return base::Error(record);
  }

  // A step whose connection was lost begins anew over one that was opened again, a few times in a run at most. What the
  // closing does must not wait for that: it clears the links by itself. Nor is anything switched on again unasked.
  task<> body_over_lost_links(const Step& s) {
    for (;;) {
      std::optional<base::ErrorRecord> lost;
      try {
        co_await body(s);
      } catch (const base::Error& error) {
        const bool may_go_on = s.place.part != "closing" && reopened_ < reopened_most && context_.is_all_off();
        if (error.record().code != ErrorCode::connection_lost || !may_go_on) throw;
        lost = error.record();
      }
      if (!lost) co_return;
      ++reopened_;
      co_await reopen(context_, s.place, *lost);
    }
  }

  task<> body(const Step& s) {
    Result result = co_await s.action->run(context_, s);
    if (std::holds_alternative<std::monostate>(result)) co_return;
    if (auto* reading = std::get_if<Reading>(&result)) finish_reading(s, *reading);
    if (!s.name_it.empty()) context_.keep(s.name_it, std::move(result));
  }

  void finish_reading(const Step& s, Reading& reading) {
    const std::string given = reading.name;
    reading.name = s.name_it.empty() ? given : s.name_it;
    if (!context_.can_pass(given)) context_.cannot_pass(reading.name);
    context_.tell(event::Measured{s.place, reading});
    if (s.must_meet) context_.judge(s.place, reading, *s.must_meet);
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
  int reopened_ = 0;      // lost connections, in this run
  bool is_told_ = false;  // what stopped the run is among the events
};

}  // namespace

task<RunResult> run(const Sequence& sequence, RunSetting setting, event::Journal& journal,
                    std::vector<event::Listener*> listeners) {
  const auto runner = std::make_unique<Runner>(sequence, std::move(setting), journal, std::move(listeners));
  co_return co_await runner->all();
}

}  // namespace eyelevel::sequence
