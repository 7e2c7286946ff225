// SPDX-License-Identifier: Apache-2.0
// The HTTP API, version 1: README.md of this folder explains it by examples. One table of routes; the OpenAPI document
// is made from it. Needs no network: requests in, answers out.
#pragma once

#include <boost/json/object.hpp>

#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "core/service/bench_owner.hpp"
#include "core/service/house.hpp"
#include "core/service/http/message.hpp"
#include "core/service/http/server.hpp"

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
};

class Api;

struct Route {
  std::string_view method;
  std::string_view path;   // "/api/1/benches/{bench}/answer"
  std::string_view about;  // one sentence
  std::string_view takes;  // name of the schema of its body, or empty
  std::string_view gives;  // name of the schema of its answer; empty: none (204)
  std::string_view query;  // names of its query parameters, with commas
  task<http::Response> (Api::*handle)(const Call&);
};
const std::vector<Route>& routes();

// OpenAPI 3.1.
std::string openapi(std::string_view program);

class Api {
 public:
  // References must outlive it. `program`: "eyelevel 0.1.0".
  Api(House& house, std::vector<BenchOwner*> benches, std::string program, Page page)
      : house_(house), benches_(std::move(benches)), program_(std::move(program)), page_(std::move(page)) {}

  // Never throws, but when it is cancelled.
  task<http::Response> answer(const http::Request& request);
  std::function<task<>(http::Outlet&)> feed(const http::Request& request, http::Response& refused);
  void serves_loopback(bool is_loopback) { is_loopback_ = is_loopback; }

  // The routes.
  task<http::Response> about(const Call& call);
  task<http::Response> describe(const Call& call);
  task<http::Response> list_benches(const Call& call);
  task<http::Response> show_bench(const Call& call);
  task<http::Response> take_answer(const Call& call);
  task<http::Response> pause(const Call& call);
  task<http::Response> go_on(const Call& call);
  task<http::Response> stop_after_step(const Call& call);
  task<http::Response> stop(const Call& call);
  task<http::Response> list_jobs(const Call& call);
  task<http::Response> add_job(const Call& call);
  task<http::Response> show_job(const Call& call);
  task<http::Response> move_job(const Call& call);
  task<http::Response> withdraw_job(const Call& call);
  task<http::Response> resume_job(const Call& call);
  task<http::Response> close_job(const Call& call);
  task<http::Response> list_sequences(const Call& call);
  task<http::Response> show_sentences(const Call& call);
  task<http::Response> list_models(const Call& call);
  task<http::Response> list_runs(const Call& call);
  task<http::Response> show_run(const Call& call);
  task<http::Response> list_events(const Call& call);
  task<http::Response> give_capture(const Call& call);
  task<http::Response> draw_sheet(const Call& call);
  task<http::Response> metrics(const Call& call);

 private:
  BenchOwner& bench(const Call& call) const;
  BenchOwner* find_bench(std::string_view name) const;
  // Of one of the benches; of all when the name is empty.
  void wake(std::string_view bench) const;
  record::Job interrupted_here(std::int64_t number) const;
  http::Response page(const http::Request& request) const;
  task<> on_store_thread(std::function<void()> work) {
    return house_.store_thread.done(house_.timeline, std::move(work));
  }

  House& house_;
  std::vector<BenchOwner*> benches_;
  std::string program_;
  Page page_;
  bool is_loopback_ = true;
};

}  // namespace eyelevel::service
