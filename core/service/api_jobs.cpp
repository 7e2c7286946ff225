// SPDX-License-Identifier: Apache-2.0
// Routes of jobs.
#include <fmt/format.h>

#include <algorithm>
#include <boost/json.hpp>
#include <utility>

#include "core/base/error.hpp"
#include "core/record/books/names.hpp"
#include "core/service/api.hpp"
#include "core/service/bench_view.hpp"
#include "core/service/close_run.hpp"
#include "core/service/fields.hpp"
#include "core/service/http/json_answer.hpp"
#include "core/service/http/problem.hpp"
#include "core/service/library.hpp"
#include "core/service/numbers.hpp"
#include "core/service/resume.hpp"

namespace eyelevel::service {

namespace json = boost::json;
using http::Problem;
using http::Response;
using record::Job;
using record::JobState;

namespace {

Response job_answer(const Job& job, int status = 200) {
  Response response = http::json_answer(job_json(job), status);
  if (status == 201) response.headers.emplace_back("Location", fmt::format("/api/1/jobs/{}", job.id));
  return response;
}

std::int64_t number_of_job(const Call& call) {
  const auto& text = call.named.at("job");
  if (const auto number = whole_number(text)) return *number;
  throw Problem(404, fmt::format("there is no job \"{}\"", base::escaped(text, 40)), "list the jobs: /api/1/jobs");
}

Problem not_waiting(const Job& job) {
  return Problem(409, fmt::format("job {} does not wait any more, it is {}", job.id, record::name_of(job.state)));
}

}  // namespace

task<Response> Api::list_jobs(const Call& call) {
  record::JobQuery query;
  const auto& asked = call.request.query;
  if (const auto at = asked.find("bench"); at != asked.end()) query.bench = at->second;
  if (const auto at = asked.find("state"); at != asked.end()) {
    query.state = record::job_state(at->second);
    if (!query.state)
      throw Problem(400, fmt::format("there is no state \"{}\" of a job", base::escaped(at->second, 40)));
  }
  query.at_most = at_most_of(call.request, 100);
  std::vector<Job> jobs;
  co_await on_store_thread([&] { jobs = house_.jobs.list(query); });
  json::array list;
  for (const Job& job : jobs) list.push_back(job_json(job));
  co_return http::json_answer(json::object{{"jobs", std::move(list)}});
}

task<Response> Api::add_job(const Call& call) {
  const Fields fields(call.body, {"bench", "sequence", "serial", "model", "set", "priority", "by"});
  Job job;
  job.bench = fields.text_or("bench", "");
  job.sequence = fields.text("sequence");
  job.serial = fields.text_or("serial", "");
  if (!job.serial.empty()) job.serial = record::required_name("the serial", job.serial);
  job.model = fields.text_or("model", "");
  job.given = fields.given("set");
  job.priority = fields.whole_or("priority", 0);
  job.asked_by = by_of(call, fields);
  job.asked = house_.timeline.utc();
  auto* owner = find_bench(job.bench);
  if (owner == nullptr && !job.bench.empty())
    throw Problem(422, fmt::format("there is no bench \"{}\"", base::escaped(job.bench)),
                  "list the benches: /api/1/benches");
  co_await add_checked(job, owner);
  co_return job_answer(job, 201);
}

// Whoever asks learns of every mistake now, not when the bench comes to it.
task<> Api::add_checked(Job& job, const BenchOwner* owner) {
  co_await on_store_thread([&] {
    const auto sequence = load_sequence(house_.sequences, job.sequence, house_.language, job.given);
    const auto model = load_model(house_.models, job.model);
    if (owner != nullptr) require_fit(sequence, owner->bench(), model);
    job.id = house_.jobs.add(job);
  });
  wake(job.bench);
}

// A scanner that reads twice, or at a bench that does something else, prepares nothing more.
task<Response> Api::scan(const Call& call) {
  const BenchOwner& owner = bench(call);
  const Fields fields(call.body, {"serial", "by"});
  Job job;
  job.bench = owner.bench().name;
  job.serial = fields.text("serial");
  job.asked_by = by_of(call, fields);
  job.asked = house_.timeline.utc();
  if (owner.state() != BenchState::idle)
    throw Problem(409, fmt::format("{} is not idle but {}", job.bench, name_of(owner.state())),
                  "scan when it is, or queue a job");
  std::vector<Job> waiting;
  co_await on_store_thread([&] {
    const auto visit = visit_of(house_.models, job.serial);
    job.model = visit.model;
    job.sequence = visit.sequence;
    waiting = house_.jobs.list({.bench = job.bench, .state = JobState::waiting});
  });
  const auto same =
      std::find_if(waiting.begin(), waiting.end(), [&](const Job& other) { return other.serial == job.serial; });
  if (same != waiting.end())
    throw Problem(409, fmt::format("job {} waits for {} already", same->id, base::escaped(job.serial, 100)));
  co_await add_checked(job, &owner);
  co_return job_answer(job, 201);
}

task<Response> Api::list_schedules(const Call&) {
  json::array list;
  for (const auto& schedule : schedules_) list.push_back(schedule_json(schedule, house_.timeline.utc()));
  co_return http::json_answer(json::object{{"schedules", std::move(list)}});
}

task<Response> Api::show_job(const Call& call) {
  const auto number = number_of_job(call);
  Job job;
  co_await on_store_thread([&] { job = house_.jobs.find(number); });
  co_return job_answer(job);
}

task<Response> Api::move_job(const Call& call) {
  const auto number = number_of_job(call);
  const Fields fields(call.body, {"priority"});
  const auto priority = fields.whole("priority");
  Job job;
  bool is_moved = false;
  co_await on_store_thread([&] {
    is_moved = house_.jobs.set_priority(number, priority);
    job = house_.jobs.find(number);
  });
  if (!is_moved) throw not_waiting(job);
  wake(job.bench);
  co_return job_answer(job);
}

task<Response> Api::withdraw_job(const Call& call) {
  const auto number = number_of_job(call);
  Job job;
  bool is_withdrawn = false;
  co_await on_store_thread([&] {
    is_withdrawn = house_.jobs.withdraw(number);
    job = house_.jobs.find(number);
  });
  if (!is_withdrawn) throw not_waiting(job);
  wake(job.bench);
  co_return Response{204, "", "", {}};
}

task<Response> Api::stop_job(const Call& call) {
  const auto number = number_of_job(call);
  for (auto* owner : benches_)
    if (owner->job() && owner->job()->id == number && owner->stop_now()) co_return Response{204, "", "", {}};
  Job job;
  co_await on_store_thread([&] { job = house_.jobs.find(number); });
  if (job.state == JobState::under_way && find_bench(job.bench) == nullptr)
    throw Problem(409, fmt::format("bench \"{}\" belongs to another daemon", base::escaped(job.bench)), "ask that one");
  throw Problem(409, fmt::format("job {} is not under way, it is {}", number, record::name_of(job.state)),
                job.state == JobState::waiting ? "withdraw it" : "");
}

// Its bench is one of this daemon's: that one may have more of the run than anybody else knows yet.
Job Api::interrupted_here(std::int64_t number) const {
  Job job = house_.jobs.find(number);
  if (find_bench(job.bench) == nullptr)
    throw Problem(409, fmt::format("bench \"{}\" belongs to another daemon", base::escaped(job.bench)), "ask that one");
  if (job.state != JobState::interrupted)
    throw Problem(409, fmt::format("job {} is not interrupted, it is {}", number, record::name_of(job.state)));
  return job;
}

task<Response> Api::resume_job(const Call& call) {
  const auto number = number_of_job(call);
  Job next;
  co_await on_store_thread([&] {
    const Job job = interrupted_here(number);
    const auto from = resumed(house_.store, job.run);
    require_same(load_sequence(house_.sequences, job.sequence, house_.language, from.begun.given), from);
    close_run(house_.store, job.run, house_.timeline.utc());
    next = job;
    next.goes_on_from = job.run;
    next.run.clear();
    next.why.clear();
    next.asked = house_.timeline.utc();
    next.state = JobState::waiting;
    next.id = house_.jobs.add(next);
    house_.jobs.put(number, JobState::done, fmt::format("resumed by job {}", next.id));
  });
  wake(next.bench);
  co_return job_answer(next, 201);
}

task<Response> Api::close_job(const Call& call) {
  const auto number = number_of_job(call);
  Job job;
  co_await on_store_thread([&] {
    job = interrupted_here(number);
    close_run(house_.store, job.run, house_.timeline.utc());
    house_.jobs.put(number, JobState::done, "closed without being gone on with");
  });
  wake(job.bench);
  co_return Response{204, "", "", {}};
}

}  // namespace eyelevel::service
