// SPDX-License-Identifier: Apache-2.0
// The HTTP API, version 1: README.md of this folder explains it by examples. One table of routes; the OpenAPI document
// is made from it. Needs no network: requests in, answers out.
#pragma once

#include <boost/json/object.hpp>

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/service/access/access.hpp"
#include "core/service/bench_owner.hpp"
#include "core/service/fields.hpp"
#include "core/service/house.hpp"
#include "core/service/http/message.hpp"
#include "core/service/http/server.hpp"
#include "core/service/schedule.hpp"

namespace eyelevel::service {

// A file of the page.
struct PageFile {
  std::string_view type;
  std::string_view bytes;
};
using Page = std::map<std::string, PageFile, std::less<>>;  // by name: "index.html"

struct Call {
  const http::Request& request;
  std::map<std::string, std::string, std::less<>> named;  // the {parts} of the path
  boost::json::object body;                               // of what changes something
  Caller caller;
};

// Who asks, for the record: the user, or where nobody signs in, whom the body names.
std::string by_of(const Call& call, const Fields& fields);

class Api;
class Rehearsals;
class Retention;

struct Route {
  std::string_view method;
  std::string_view path;       // "/api/1/benches/{bench}/answer"
  std::optional<Right> needs;  // empty: asked by whoever is to sign in
  std::string_view about;      // one sentence
  std::string_view takes;      // name of the schema of its body, or empty
  std::string_view gives;      // name of the schema of its answer; empty: none (204)
  std::string_view query;      // names of its query parameters, with commas
  task<http::Response> (Api::*handle)(const Call&);
};
const std::vector<Route>& routes();

// OpenAPI 3.1.
std::string openapi(std::string_view program);

class Api {
 public:
  // References must outlive it; benches may come to the list and go from it, while what it pointed at stays. `program`:
  // "eyelevel 0.1.0".
  Api(House& house, Access& access, Rehearsals& rehearsals, Retention& retention,
      const std::vector<BenchOwner*>& benches, std::string program, Page page, std::vector<Schedule> schedules = {})
      : house_(house),
        access_(access),
        rehearsals_(rehearsals),
        retention_(retention),
        benches_(benches),
        program_(std::move(program)),
        page_(std::move(page)),
        schedules_(std::move(schedules)) {}

  // Never throws, but when it is cancelled.
  task<http::Response> answer(const http::Request& request);
  std::function<task<>(http::Outlet&)> feed(const http::Request& request, http::Response& refused);
  // Reads the bench files anew; throws base::Error, and then changed nothing.
  void reloads_by(std::function<void()> reload) { reload_ = std::move(reload); }
  void serves_loopback(bool is_loopback) { is_loopback_ = is_loopback; }

  // The routes.
  task<http::Response> about(const Call& call);
  task<http::Response> describe(const Call& call);
  task<http::Response> reload(const Call& call);
  task<http::Response> list_benches(const Call& call);
  task<http::Response> show_bench(const Call& call);
  task<http::Response> take_answer(const Call& call);
  task<http::Response> pause(const Call& call);
  task<http::Response> go_on(const Call& call);
  task<http::Response> stop_after_step(const Call& call);
  task<http::Response> stop(const Call& call);
  task<http::Response> ask_instruments(const Call& call);
  task<http::Response> scan(const Call& call);
  task<http::Response> list_jobs(const Call& call);
  task<http::Response> add_job(const Call& call);
  task<http::Response> show_job(const Call& call);
  task<http::Response> move_job(const Call& call);
  task<http::Response> withdraw_job(const Call& call);
  task<http::Response> stop_job(const Call& call);
  task<http::Response> resume_job(const Call& call);
  task<http::Response> close_job(const Call& call);
  task<http::Response> list_schedules(const Call& call);
  task<http::Response> list_sequences(const Call& call);
  task<http::Response> show_sentences(const Call& call);
  task<http::Response> list_models(const Call& call);
  task<http::Response> list_troubles(const Call& call);
  task<http::Response> begin_rehearsal(const Call& call);
  task<http::Response> show_rehearsal(const Call& call);
  task<http::Response> stop_rehearsal(const Call& call);
  task<http::Response> list_runs(const Call& call);
  task<http::Response> show_run(const Call& call);
  task<http::Response> list_events(const Call& call);
  task<http::Response> give_capture(const Call& call);
  task<http::Response> draw_sheet(const Call& call);
  task<http::Response> show_workshop(const Call& call);
  task<http::Response> draw_workshop(const Call& call);
  task<http::Response> show_retention(const Call& call);
  task<http::Response> retain(const Call& call);
  task<http::Response> metrics(const Call& call);
  task<http::Response> show_session(const Call& call);
  task<http::Response> sign_in(const Call& call);
  task<http::Response> sign_out(const Call& call);
  task<http::Response> change_password(const Call& call);
  task<http::Response> list_users(const Call& call);
  task<http::Response> add_user(const Call& call);
  task<http::Response> change_user(const Call& call);
  task<http::Response> remove_user(const Call& call);
  task<http::Response> list_tokens(const Call& call);
  task<http::Response> add_token(const Call& call);
  task<http::Response> remove_token(const Call& call);
  task<http::Response> list_seats(const Call& call);
  task<http::Response> add_seat(const Call& call);
  task<http::Response> remove_seat(const Call& call);
  task<http::Response> list_audit(const Call& call);

 private:
  BenchOwner& bench(const Call& call) const;
  BenchOwner* find_bench(std::string_view name) const;
  // Of one of the benches; of all when the name is empty.
  void wake(std::string_view bench) const;
  // Adds it when it can be run; `owner`: of the bench that it names.
  task<> add_checked(record::Job& job, const BenchOwner* owner);
  record::Job interrupted_here(std::int64_t number) const;
  http::Response page(const http::Request& request) const;
  task<http::Response> answer_of_route(const http::Request& request);
  // What a route changes is in the audit before it is done, and what came of it afterwards.
  task<http::Response> audited(const Route& route, const Call& call);
  task<> on_store_thread(std::function<void()> work) {
    return house_.store_thread.done(house_.timeline, std::move(work));
  }

  House& house_;
  Access& access_;
  Rehearsals& rehearsals_;
  Retention& retention_;
  const std::vector<BenchOwner*>& benches_;
  std::function<void()> reload_;
  std::string program_;
  Page page_;
  std::vector<Schedule> schedules_;
  bool is_loopback_ = true;
};

}  // namespace eyelevel::service
