// SPDX-License-Identifier: Apache-2.0
#include "core/service/bench_owner.hpp"

#include <fmt/format.h>

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/json.hpp>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/bench_proof.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/report/words.hpp"
#include "core/service/bench_view.hpp"
#include "core/service/library.hpp"
#include "core/service/resume.hpp"

namespace eyelevel::service {
namespace asio = boost::asio;
using record::Job;
using record::JobState;

// All that a job needs before anything is touched.
struct BenchOwner::Prepared {
  std::unique_ptr<const sequence::Sequence> sequence;
  std::unique_ptr<const sequence::Explanation> explanation;
  std::optional<bench::ModelSheet> model;
  std::optional<Resumed> from;
  event::BenchProof proof;
};

std::string_view name_of(BenchState state) {
  switch (state) {
    case BenchState::idle: return "idle";
    case BenchState::waits_for_start: return "waits for start";
    case BenchState::running: return "running";
    case BenchState::paused: return "paused";
    case BenchState::stopping: return "stopping";
    case BenchState::stopped_working: return "stopped working";
  }
  return "idle";
}

BenchOwner::BenchOwner(House& house, BenchSetting setting)
    : house_(house), setting_(std::move(setting)), person_(house.timeline, [this] { show(); }) {
  show();
}

// Where the bench is simulated, what the person says was done is done then.
task<bench::Answer> BenchOwner::Hands::ask(const bench::Question& question) {
  bench::Answer answer = co_await owner.person_.ask(question);
  if (owner.setting_.hands && question.kind == bench::AnswerKind::done) co_await owner.setting_.hands->ask(question);
  co_return answer;
}

BenchState BenchOwner::state() const {
  if (is_over_ || trouble_) return BenchState::stopped_working;
  if (!job_) return is_stopping_ ? BenchState::stopping : BenchState::idle;
  if (person_.open() && person_.open()->starts_a_job) return BenchState::waits_for_start;
  if (is_stopping_ || stops_after_step_) return BenchState::stopping;
  return control_ && control_->is_paused() ? BenchState::paused : BenchState::running;
}

void BenchOwner::show() { feed_.tell_bench(record::text_of(bench_json(*this, person_))); }

void BenchOwner::wake() {
  fits_is_old_ = true;
  look_for_jobs();
  feed_.tell_jobs();
}

void BenchOwner::look_for_jobs() {
  ++wakes_;
  woken_.strike();
}

void BenchOwner::stop() {
  is_stopping_ = true;
  if (cancel_) cancel_->emit(asio::cancellation_type::terminal);
  wake();
  show();
}

void BenchOwner::retire() {
  is_retiring_ = true;
  wake();
}

void BenchOwner::replace(BenchSetting setting) {
  is_retiring_ = false;
  next_setting_ = std::move(setting);
  wake();
}

bool BenchOwner::pause() {
  if (!control_ || control_->is_paused() || stops_after_step_) return false;
  control_->pause();
  show();
  return true;
}

bool BenchOwner::go_on() {
  if (!control_ || !control_->is_paused()) return false;
  control_->go_on();
  show();
  return true;
}

bool BenchOwner::stop_after_step() {
  if (!control_) return false;
  stops_after_step_ = true;
  control_->stop_after_step();
  show();
  return true;
}

bool BenchOwner::stop_now() {
  if (!cancel_ || !job_) return false;
  stops_after_step_ = true;
  is_stopped_ = true;
  cancel_->emit(asio::cancellation_type::terminal);
  show();
  return true;
}

// About twenty looks a second where captures come at random moments 30 ms apart, and none that nobody sees.
void BenchOwner::glance(const event::Captured& captured) {
  constexpr base::Duration apart = std::chrono::milliseconds(20);
  const auto now = house_.timeline.now();
  const bool draws = feed_.is_watched() && now - looked_ >= apart;
  if (!looker_->take(captured, draws)) return;
  looked_ = now;
  feed_.tell_look(looker_->look().json(), looker_->look().eye.bytes());
}

void BenchOwner::told(const event::Event& event) {
  feed_.tell(event);
  if (const auto* begun = std::get_if<event::Begun>(&event.body)) {
    run_ = event.run;
    last_ = LastRun{event.run, begun->serial, begun->sequence, "", std::nullopt, ""};
    show();
  } else if (const auto* connected = std::get_if<event::Connected>(&event.body)) {
    health_[connected->instrument.role] = {event.utc, event.utc, connected->instrument.identity, std::nullopt};
  } else if (const auto* measured = std::get_if<event::Measured>(&event.body)) {
    if (looker_ && looker_->take(measured->reading)) feed_.tell_look(looker_->look().json(), {});
  } else if (const auto* prompted = std::get_if<event::Prompted>(&event.body)) {
    prompt_within_s_ = prompted->within_s;
  } else if (const auto* closed = std::get_if<event::Closed>(&event.body)) {
    last_->ended = closed->ended;
    last_->judgement = closed->judgement;
    here_.reset();
    show();
  }
}

// Runs work that stop() and stop_now() cancel.
task<> BenchOwner::cancellable(task<> work) {
  cancel_ = std::make_shared<asio::cancellation_signal>();
  const auto signal = cancel_;  // lives as long as the work
  std::exception_ptr failure;
  try {
    co_await asio::co_spawn(co_await asio::this_coro::executor, std::move(work),
                            asio::bind_cancellation_slot(signal->slot(), asio::use_awaitable));
  } catch (...) {
    failure = std::current_exception();
  }
  cancel_.reset();
  if (failure) std::rethrow_exception(failure);
}

task<> BenchOwner::put(std::int64_t job, JobState state, std::string why) {
  co_await reached([&] { house_.jobs.put(job, state, why); });
  feed_.tell_jobs();
}

void BenchOwner::tell_trouble(const base::ErrorRecord& trouble) {
  trouble_ = trouble;
  show();
}

// A stop does not wait for it.
task<> BenchOwner::pause_before_next_try() {
  const base::Duration until = house_.timeline.now() + std::chrono::seconds(1);
  while (!is_stopping_ && house_.timeline.now() < until)
    co_await house_.timeline.sleep_until(std::min(until, house_.timeline.now() + std::chrono::milliseconds(100)));
}

// Work on the store thread that may be done again. While the store cannot be reached the bench says so and waits.
// False: it was told to stop meanwhile, and left the work undone; what is under way then is recovered by the next
// start.
task<bool> BenchOwner::reached(std::function<void()> work) {
  for (;;) {
    std::optional<base::ErrorRecord> lost;
    try {
      co_await house_.store_thread.done(house_.timeline, work);
    } catch (const base::Error& error) {
      if (error.record().code != base::ErrorCode::no_connection) throw;
      lost = error.record();
    }
    if (!lost) break;
    if (is_stopping_) co_return false;
    tell_trouble(*lost);
    co_await pause_before_next_try();
  }
  if (trouble_) {
    trouble_.reset();
    show();
  }
  co_return true;
}

task<> BenchOwner::work() {
  try {
    co_await recover();
    co_await read_proof();
    show();
    while (const auto job = co_await next_job()) co_await do_job(*job);
  } catch (const base::Error& error) {
    trouble_ = error.record();  // the store: no job can be taken, and none is lost
  }
  job_.reset();
  is_over_ = true;
  show();
}

task<std::optional<Job>> BenchOwner::next_job() {
  for (;;) {
    if (is_stopping_ || is_retiring_) co_return std::nullopt;
    if (next_setting_) {
      setting_ = std::move(*next_setting_);
      next_setting_.reset();
      show();
    }
    const auto seen = wakes_;
    if (std::exchange(fits_is_old_, false)) fits_.clear();
    std::optional<Job> job;
    co_await reached([&] {
      job = house_.jobs.take(setting_.bench.name, [this](const Job& one) { return fits(one); },
                             {house_.timeline.utc(), lease_length});
    });
    if (job) co_return job;
    while (wakes_ == seen && !asks_instruments_) co_await woken_.wait();
    if (std::exchange(asks_instruments_, false)) co_await look_at_instruments();
  }
}

task<> BenchOwner::read_proof() {
  event::BenchProof proof;
  const bool is_read = co_await reached([&] {
    proof = record::last_proof(house_.store, setting_.bench.name, house_.timeline.utc(), setting_.bench.proof_lasts_s);
  });
  if (is_read) proof_ = proof;
}

// On the store thread. A job that names no bench is left to one that it fits; its mistakes were told when it was added.
bool BenchOwner::fits(const Job& job) {
  const auto [known, is_new] = fits_.emplace(job.id, false);
  if (!is_new) return known->second;
  try {
    require_fit(load_sequence(house_.sequences, job.sequence, house_.language, job.given), setting_.bench,
                load_model(house_.models, job.model));
    known->second = true;
  } catch (const base::Error& error) {
    if (base::kind_of(error.record().code) != base::ErrorKind::input) throw;
  }
  return known->second;
}

// On the store thread.
BenchOwner::Prepared BenchOwner::prepared(const Job& job) const {
  Prepared ready;
  auto given = job.given;
  if (!job.goes_on_from.empty()) {
    ready.from = resumed(house_.store, job.goes_on_from);
    given = ready.from->begun.given;
  }
  ready.sequence =
      std::make_unique<const sequence::Sequence>(load_sequence(house_.sequences, job.sequence, house_.language, given));
  if (ready.from) require_same(*ready.sequence, *ready.from);
  ready.model = load_model(house_.models, job.model);
  require_fit(*ready.sequence, setting_.bench, ready.model);
  ready.explanation =
      std::make_unique<const sequence::Explanation>(sequence::explain(*ready.sequence, house_.language));
  ready.proof =
      record::last_proof(house_.store, setting_.bench.name, house_.timeline.utc(), setting_.bench.proof_lasts_s);
  return ready;
}

// False: the job is refused, and says why.
task<bool> BenchOwner::prepare(const Job& job, Prepared& ready) {
  std::optional<base::Error> refused;
  try {
    co_await house_.store_thread.done(house_.timeline, [&] { ready = prepared(job); });
  } catch (const base::Error& error) {
    refused.emplace(error);
  }
  if (!refused) co_return true;
  co_await put(job.id, JobState::refused, base::describe(refused->record()));
  co_return false;
}

task<> BenchOwner::wait_for_start(const Job& job) {
  co_await person_.ask_to_start(
      fmt::format("Start {}{}", sequence_->about, job.serial.empty() ? "" : " for " + job.serial));
}

void BenchOwner::put_down() {
  job_.reset();
  looker_.reset();
  sequence_.reset();
  explanation_.reset();
  control_.reset();
  here_.reset();
  is_stopped_ = stops_after_step_ = false;
  show();
}

// True: it may begin. Who asks to stop while it waits, or while the store was asked, is heard.
task<bool> BenchOwner::is_to_begin(const Job& job) {
  // What lights a laser is started by a person at that bench.
  const bool waits = explanation_->laser_lit.longest_s > 0 || !explanation_->asked.empty();
  if (waits && !is_stopping_) {
    try {
      co_await cancellable(wait_for_start(job));
    } catch (const boost::system::system_error&) {
      co_return false;
    }
  }
  co_return !is_stopping_ && !is_stopped_;
}

task<> BenchOwner::do_job(Job job) {
  Prepared ready;
  if (!co_await prepare(job, ready)) {
    show();
    co_return;
  }
  job_ = job;
  run_.clear();
  sequence_ = std::move(ready.sequence);
  explanation_ = std::move(ready.explanation);
  looker_ = std::make_unique<Looker>(*sequence_);
  show();
  const bool begins = co_await is_to_begin(job) && co_await play(job, ready);
  if (!begins) co_await put(job.id, is_stopped_ ? JobState::withdrawn : JobState::waiting, "");
  put_down();
}

// Null: the job was given back meanwhile, since this daemon could not be heard of.
task<std::unique_ptr<record::RunJournal>> BenchOwner::begun_journal(const Job& job) {
  std::unique_ptr<record::RunJournal> journal;
  co_await reached([&] {
    journal = std::make_unique<record::RunJournal>(house_.store, house_.timeline, &house_.store_thread);
    if (!house_.jobs.give_run(job.id, journal->run())) journal.reset();
  });
  co_return journal;
}

// False: it ended before its run began.
task<bool> BenchOwner::play(const Job& job, const Prepared& ready) {
  const auto journal = co_await begun_journal(job);
  if (is_stopping_ || !journal) co_return false;
  job_->run = run_ = journal->run();
  control_ = std::make_unique<sequence::RunControl>(
      sequence::RunControl::Watch{.at_step =
                                      [this](const event::Place& place) {
                                        here_ = place;
                                        show();
                                      },
                                  .at_capture = [this](const event::Captured& captured) { glance(captured); }});
  show();
  sequence::RunResult result;
  co_await cancellable(play_into(result, job, ready, *journal));
  if (!last_ || last_->run != journal->run()) {  // not one event could be stored
    co_await pause_before_next_try();
    co_return false;
  }
  std::string sentence;
  if (co_await reached([&] { sentence = report::end_text(record::read_run(house_.store, result.run)); }))
    last_->sentence = std::move(sentence);
  co_await read_proof();
  const bool is_left = is_stopping_ && !is_stopped_ && result.ended == "stopped";
  co_await put(job.id, is_left ? JobState::interrupted : JobState::done,
               is_left ? "the daemon was stopped; the run was closed and its instruments were made safe" : "");
  co_return true;
}

task<> BenchOwner::play_into(sequence::RunResult& result, const Job& job, const Prepared& ready,
                             record::RunJournal& journal) {
  result = co_await sequence::run(*sequence_,
                                  {.timeline = house_.timeline,
                                   .bench = setting_.bench,
                                   .model = ready.model ? &*ready.model : nullptr,
                                   .open = setting_.open,
                                   .operator_ = hands_,
                                   .run = journal.run(),
                                   .serial = job.serial,
                                   .seed = static_cast<std::uint64_t>(job.id),
                                   .proof = ready.proof,
                                   .control = control_.get(),
                                   .goes_on_from = ready.from ? ready.from->run : "",
                                   .reached = ready.from ? std::optional(ready.from->reached) : std::nullopt},
                                  journal, {this});
}

}  // namespace eyelevel::service
