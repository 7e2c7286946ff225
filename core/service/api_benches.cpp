// SPDX-License-Identifier: Apache-2.0
// Routes of benches, sequences and models.
#include <boost/json.hpp>
#include <utility>

#include "core/service/api.hpp"
#include "core/service/bench_view.hpp"
#include "core/service/fields.hpp"
#include "core/service/http/json_answer.hpp"
#include "core/service/http/problem.hpp"
#include "core/service/library.hpp"

namespace eyelevel::service {

namespace json = boost::json;
using http::json_answer;
using http::Problem;
using http::Response;

namespace {

Response done() { return {204, "", "", {}}; }
Response done_if(bool came_about, const char* otherwise) {
  if (!came_about) throw Problem(409, otherwise, "read the bench anew");
  return done();
}

json::array entries_json(const std::vector<Entry>& entries, std::string_view name) {
  json::array list;
  for (const Entry& entry : entries)
    list.push_back(json::object{{"file", entry.file}, {name, entry.name}, {"about", entry.about}});
  return list;
}

}  // namespace

task<Response> Api::about(const Call&) {
  json::array names;
  for (const auto* owner : benches_) names.emplace_back(owner->bench().name);
  co_return json_answer(
      json::object{{"program", program_}, {"benches", std::move(names)}, {"openapi", "/api/1/openapi.json"}});
}

task<Response> Api::describe(const Call&) { co_return Response{200, "application/json", openapi(program_), {}}; }

task<Response> Api::reload(const Call&) {
  if (!reload_) throw Problem(409, "nothing can be read anew here");
  reload_();
  co_return done();
}

task<Response> Api::list_benches(const Call&) {
  json::array list;
  for (auto* owner : benches_) list.push_back(bench_json(*owner, owner->person()));
  co_return json_answer(json::object{{"benches", std::move(list)}});
}

task<Response> Api::show_bench(const Call& call) {
  BenchOwner& owner = bench(call);
  co_return json_answer(bench_json(owner, owner.person()));
}

task<Response> Api::take_answer(const Call& call) {
  BenchOwner& owner = bench(call);
  access_.require_seat(call.caller, owner.bench().name);
  const Fields fields(call.body, {"question", "answer", "by"});
  owner.person().answer(fields.whole("question"), fields.text("answer"), by_of(call, fields));
  co_return done();
}

task<Response> Api::pause(const Call& call) {
  co_return done_if(bench(call).pause(), "nothing runs here that could be paused");
}
// It may light a laser again.
task<Response> Api::go_on(const Call& call) {
  BenchOwner& owner = bench(call);
  access_.require_seat(call.caller, owner.bench().name);
  co_return done_if(owner.go_on(), "nothing is paused here");
}
task<Response> Api::stop_after_step(const Call& call) {
  co_return done_if(bench(call).stop_after_step(), "nothing runs here");
}
task<Response> Api::stop(const Call& call) { co_return done_if(bench(call).stop_now(), "nothing runs here"); }

task<Response> Api::ask_instruments(const Call& call) {
  co_return done_if(bench(call).ask_instruments(), "the bench is not idle: its instruments are not disturbed");
}

task<Response> Api::list_sequences(const Call&) {
  std::vector<Entry> entries;
  co_await on_store_thread([&] { entries = sequences_in(house_.sequences, house_.language); });
  co_return json_answer(json::object{{"sequences", entries_json(entries, "name")}});
}

task<Response> Api::show_sentences(const Call& call) {
  const auto file = call.request.query.find("file");
  if (file == call.request.query.end())
    throw Problem(400, "which sequence is not said", "?file=ready/pickup-level.yaml");
  json::object explained;
  co_await on_store_thread([&] {
    const auto sequence = load_sequence(house_.sequences, file->second, house_.language, {}, Missing::allowed);
    explained = explanation_json(sequence, sequence::explain(sequence, house_.language));
  });
  co_return json_answer(explained);
}

task<Response> Api::list_models(const Call&) {
  std::vector<Entry> entries;
  co_await on_store_thread([&] { entries = models_in(house_.models); });
  co_return json_answer(json::object{{"models", entries_json(entries, "model")}});
}

}  // namespace eyelevel::service
