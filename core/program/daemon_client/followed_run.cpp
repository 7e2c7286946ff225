// SPDX-License-Identifier: Apache-2.0
#include "core/program/daemon_client/followed_run.hpp"

#include <fmt/format.h>

#include <array>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/deferred.hpp>
#include <boost/asio/experimental/parallel_group.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/json.hpp>
#include <csignal>
#include <utility>

#include "core/base/gong.hpp"
#include "core/program/output.hpp"
#include "core/record/journal/event_json.hpp"

namespace eyelevel::program {
namespace asio = boost::asio;
namespace json = boost::json;
namespace {

constexpr base::Duration patience = std::chrono::seconds(30);
constexpr base::Duration between_tries = std::chrono::seconds(1);

std::string text_of(const json::object& object, const char* key) {
  const auto* value = object.if_contains(key);
  return value != nullptr && value->is_string() ? std::string(value->get_string()) : std::string();
}

const json::object* object_of(const json::object& object, const char* key) {
  const auto* value = object.if_contains(key);
  return value == nullptr ? nullptr : value->if_object();
}

bench::AnswerKind kind_of(std::string_view words) {
  using enum bench::AnswerKind;
  for (const auto kind : {done, yes_or_no, one_of, value, code, text, file})
    if (bench::in_words(kind) == words) return kind;
  return text;  // of a newer daemon: it says itself what is no answer
}

struct Asked {
  std::int64_t number = 0;
  bool starts_a_job = false;
  bench::Question question;
};

Asked asked_in(const json::object& open) {
  Asked asked{open.at("number").to_number<std::int64_t>(), open.at("start").as_bool(), {}};
  asked.question = {.text = text_of(open, "text"),
                    .kind = kind_of(text_of(open, "wants")),
                    .allowed_text = text_of(open, "allowed"),
                    .name = text_of(open, "name"),
                    .again = text_of(open, "again")};
  for (const auto& choice : open.at("choices").as_array()) asked.question.choices.emplace_back(choice.as_string());
  return asked;
}

bool is_unreachable(const base::Error& error) {
  const auto code = error.record().code;
  return code == base::ErrorCode::no_connection || code == base::ErrorCode::time_out ||
         code == base::ErrorCode::connection_lost;
}

void tell(const std::string& text) { put(stderr, "eyelevel: " + text + "\n"); }

class Following {
 public:
  explicit Following(FollowedSetting setting)
      : setting_(std::move(setting)), bench_path_("/api/1/benches/" + encoded(setting_.bench)) {}

  task<FollowedResult> play(json::object job) {
    const auto made = co_await setting_.client.done("POST", "/api/1/jobs", std::move(job));
    result_.job = made.at("id").to_number<std::int64_t>();
    job_path_ = fmt::format("/api/1/jobs/{}", result_.job);
    tell(fmt::format("job {} of the daemon at {}, bench {}", result_.job, setting_.client.url(), setting_.bench));
    const auto executor = co_await asio::this_coro::executor;
    const auto [order, follow_error, answer_error, key_error] =
        co_await asio::experimental::make_parallel_group(asio::co_spawn(executor, follow(), asio::deferred),
                                                         asio::co_spawn(executor, answer_questions(), asio::deferred),
                                                         asio::co_spawn(executor, obey_keys(), asio::deferred))
            .async_wait(asio::experimental::wait_for_one(), asio::use_awaitable);
    // The others were only cancelled by the first to end.
    const std::array failures{follow_error, answer_error, key_error};
    if (failures.at(order[0])) std::rethrow_exception(failures.at(order[0]));
    co_return result_;
  }

 private:
  // Until the run is over, or the daemon has been out of reach for too long.
  task<> follow() {
    base::Duration lost{};
    bool is_lost = false;
    for (;;) {
      std::optional<base::Error> failure;
      try {
        if (co_await setting_.client.follow(feed_target(), [this, &is_lost](json::object message) {
              is_lost = false;
              return take(std::move(message));
            }))
          co_return;
      } catch (const base::Error& error) {
        if (!is_unreachable(error)) throw;
        failure.emplace(error);
      }
      const auto now = setting_.timeline.now();
      if (!is_lost) {
        tell(fmt::format("the daemon at {} does not answer any more; trying again", setting_.client.url()));
        lost = now;
      }
      is_lost = true;
      if (now - lost > patience) {
        base::ErrorRecord record;
        record.code = base::ErrorCode::connection_lost;
        record.where = "daemon at " + setting_.client.url();
        record.message = fmt::format("it has not been reached for {:.0f} s; job {} goes on there, or was closed by it",
                                     base::to_seconds(patience), result_.job);
        record.cause = failure ? failure->record().message : "";
        record.advice = fmt::format("look at the bench; later: eyelevel records --daemon {}", setting_.client.url());
        throw base::Error(std::move(record));
      }
      co_await setting_.timeline.sleep(between_tries);
    }
  }

  std::string feed_target() const {
    const auto target = bench_path_ + "/feed";
    return result_.run.empty() ? target : fmt::format("{}?run={}&after={}", target, encoded(result_.run), last_number_);
  }

  // True: it was the last one that matters.
  task<bool> take(json::object message) {
    const auto kind = text_of(message, "kind");
    if (kind == "bench") {
      co_return co_await take_bench(message.at("bench").as_object());
    } else if (kind == "event") {
      co_return co_await take_event(message.at("event").as_object());
    } else if (kind == "jobs" || kind == "missed") {
      co_return co_await look_at_job();
    }
    co_return false;
  }

  task<bool> take_bench(const json::object& bench) {
    const auto* job = object_of(bench, "job");
    const bool is_ours = job != nullptr && job->at("id").to_number<std::int64_t>() == result_.job;
    is_paused_ = is_ours && text_of(bench, "state") == "paused";
    question_.reset();
    if (is_ours) {
      if (const auto run = text_of(bench, "run"); !run.empty()) result_.run = run;
      if (const auto* open = object_of(bench, "question")) question_ = asked_in(*open);
    } else if (job != nullptr) {
      tell_once(fmt::format("it waits; {} does job {} now", setting_.bench, job->at("id").to_number<std::int64_t>()));
    }
    if (const auto* trouble = object_of(bench, "trouble"))
      tell_once(fmt::format("{} does not work: {}", setting_.bench, text_of(*trouble, "message")));
    changed_.strike();
    co_return is_ours ? false : co_await look_at_job();
  }

  task<bool> take_event(const json::object& object) {
    const auto run = text_of(object, "run");
    if (run == others_run_) co_return false;
    // A short run may be over before the bench was told of. A job knows its run before that begins.
    if (run != result_.run && co_await look_at_job()) co_return true;
    if (run != result_.run) others_run_ = run;
    co_return run == result_.run&& told(object);
  }

  // True: it closes the run.
  bool told(const json::object& object) {
    const auto event = record::event_from_json(object);
    if (event.number <= last_number_) return false;
    last_number_ = event.number;
    setting_.story.told(event);
    if (const auto* begun = std::get_if<event::Begun>(&event.body)) result_.sequence = begun->sequence;
    const auto* closed = std::get_if<event::Closed>(&event.body);
    if (closed == nullptr) return false;
    result_.ended = closed->ended;
    result_.judgement = closed->judgement;
    return true;
  }

  // What the bench does not show: that it waits, or has become something else without us seeing it.
  task<bool> look_at_job() {
    const auto read = co_await setting_.client.done("GET", job_path_);
    const auto& job = read.as_object();
    const auto state = text_of(job, "state");
    if (const auto run = text_of(job, "run"); !run.empty()) result_.run = run;
    if (state == "refused")
      throw base::Error(base::ErrorCode::bad_input,
                        fmt::format("job {} could not begin: {}", result_.job, text_of(job, "why")), "then ask again");
    if (state == "withdrawn") {
      tell(fmt::format("job {} was withdrawn before it began", result_.job));
      result_.run.clear();
      result_.ended = "stopped";
      co_return true;
    }
    if (state != "done" && state != "interrupted") co_return false;
    co_await tell_rest();
    if (result_.ended.empty()) result_.ended = "stopped";
    if (state == "interrupted") tell(text_of(job, "why"));
    co_return true;
  }

  task<> tell_rest() {
    const auto rest = co_await setting_.client.done(
        "GET", fmt::format("/api/1/runs/{}/events?after={}", encoded(result_.run), last_number_));
    for (const auto& event : rest.at("events").as_array()) told(event.as_object());
  }

  void tell_once(const std::string& text) {
    if (text != told_last_) tell(text);
    told_last_ = text;
  }

  task<> answer_questions() {
    for (;;) {
      while (!question_ || question_->number == answered_) co_await changed_.wait();
      const auto asked = *question_;
      answered_ = asked.number;
      co_await answer_while_asked(asked);
    }
  }

  // Somebody else may answer it at the page.
  task<> answer_while_asked(const Asked& asked) {
    const auto executor = co_await asio::this_coro::executor;
    const auto [order, answer_error, gone_error] =
        co_await asio::experimental::make_parallel_group(
            asio::co_spawn(executor, answer(asked), asio::deferred),
            asio::co_spawn(executor, until_gone(asked.number), asio::deferred))
            .async_wait(asio::experimental::wait_for_one(), asio::use_awaitable);
    if (order[0] == 0 && answer_error) std::rethrow_exception(answer_error);
    if (order[0] == 1 && gone_error) std::rethrow_exception(gone_error);
  }

  task<> until_gone(std::int64_t number) {
    while (question_ && question_->number == number) co_await changed_.wait();
  }

  task<> answer(const Asked& asked) {
    if (!setting_.answers_here) {
      tell(fmt::format("{} asks: {} It is answered there, not from here.", setting_.bench, asked.question.text));
      co_return co_await until_gone(asked.number);
    }
    std::optional<base::Error> failure;
    try {
      co_await answer_until_taken(asked);
    } catch (const base::Error& error) {
      failure.emplace(error);
    }
    if (!failure) co_return;
    tell(failure->what());
    if (is_unreachable(*failure)) {
      answered_ = 0;  // asked again when the daemon is back and still wants to know
      co_return co_await changed_.wait();
    }
    result_.is_failed = true;
    co_await stop();
  }

  task<> answer_until_taken(const Asked& asked) {
    auto question = asked.question;
    for (;;) {
      bench::Answer answer{"done", "who began it"};
      if (!asked.starts_a_job || !setting_.starts_by_itself) answer = co_await setting_.person.ask(question);
      const auto taken = co_await setting_.client.ask(
          "POST", bench_path_ + "/answer", {{"question", asked.number}, {"answer", answer.text}, {"by", answer.by}});
      constexpr int not_asked_any_more = 409, no_answer_to_it = 422;
      if (taken.is_done() || taken.status == not_asked_any_more) co_return;
      if (taken.status != no_answer_to_it || question.kind == bench::AnswerKind::file)
        throw setting_.client.refusal(taken);
      const auto& problem = taken.body.as_object();
      question.again = text_of(problem, "detail");
      if (const auto advice = text_of(problem, "advice"); !advice.empty()) question.again += "; " + advice;
    }
  }

  // Ours alone: what the bench does for others is none of our business.
  task<> stop() {
    for (;;) {
      const auto bench = co_await setting_.client.done("GET", bench_path_);
      const auto* job = object_of(bench.as_object(), "job");
      const bool is_ours = job != nullptr && job->at("id").to_number<std::int64_t>() == result_.job;
      const auto stopped = is_ours ? co_await setting_.client.ask("POST", bench_path_ + "/stop")
                                   : co_await setting_.client.ask("DELETE", job_path_);
      if (stopped.is_done()) co_return;
      constexpr int between_two_states = 409;
      if (stopped.status != between_two_states) throw setting_.client.refusal(stopped);
      co_await changed_.wait();
    }
  }

  task<> obey_keys() {
    asio::signal_set signals(co_await asio::this_coro::executor, SIGINT, SIGTERM);
    signals.add(SIGQUIT);
    signals.add(SIGTSTP);
    for (;;) {
      const int number = co_await signals.async_wait(asio::use_awaitable);
      std::optional<base::Error> failure;
      try {
        if (number == SIGINT || number == SIGTERM) {
          signals.remove(SIGINT);  // the next one ends us; the daemon closes the run
          signals.remove(SIGTERM);
          co_await stop();
        } else {
          co_await obey_key(number);
        }
      } catch (const base::Error& error) {
        failure.emplace(error);
      }
      if (failure) tell(failure->what());
    }
  }

  task<> obey_key(int number) {
    const bool stops = number == SIGQUIT;
    tell(stops        ? "stopping after this step"
         : is_paused_ ? "going on"
                      : "pausing before the next step; the same key goes on");
    co_await setting_.client.done("POST", bench_path_ + (stops        ? "/stop-after-step"
                                                         : is_paused_ ? "/go-on"
                                                                      : "/pause"));
  }

  FollowedSetting setting_;
  std::string bench_path_;
  std::string job_path_;
  FollowedResult result_;
  std::int64_t last_number_ = 0;  // of the last event told
  std::string others_run_;        // seen in the feed, and none of ours
  std::optional<Asked> question_;
  std::int64_t answered_ = 0;  // the question that was last taken up
  bool is_paused_ = false;
  std::string told_last_;
  base::Gong changed_;  // the bench has changed
};

}  // namespace

task<FollowedResult> follow_run(FollowedSetting setting, json::object job) {
  Following following(std::move(setting));
  co_return co_await following.play(std::move(job));
}

}  // namespace eyelevel::program
