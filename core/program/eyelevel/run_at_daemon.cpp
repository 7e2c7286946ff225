// SPDX-License-Identifier: Apache-2.0
// `eyelevel run` where a running daemon has the bench: the same lines, the same JSON, the same exit status.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <boost/json.hpp>
#include <filesystem>

#include "core/base/error.hpp"
#include "core/program/daemon_client/followed_run.hpp"
#include "core/program/daemon_note.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/eyelevel/run.hpp"
#include "core/program/output.hpp"
#include "core/program/story.hpp"
#include "core/program/terminal_operator.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::program {
namespace {

namespace fs = std::filesystem;
namespace json = boost::json;

base::Error refused(std::string why, std::string advice) {
  return base::Error(base::ErrorCode::bad_input, std::move(why), std::move(advice));
}

// What the daemon decides, or has a way of its own for.
void require_for_daemon(const RunOptions& options, const std::string& otherwise) {
  if (!options.store.empty())
    throw refused("--store: a daemon keeps the record in its own store", "leave --store out" + otherwise);
  if (!options.plugins.empty()) throw refused("--plugins: a daemon has its own", "leave --plugins out" + otherwise);
  if (!options.resume.empty())
    throw refused("--resume: a daemon goes on with interrupted jobs at its page",
                  "see its queue, or POST /api/1/jobs/{job}/resume");
}

json::object values_set(const std::vector<std::string>& set) {
  json::object values;
  for (const auto& one : set) {
    const auto at = one.find('=');
    if (at == std::string::npos) throw refused(fmt::format("--set '{}' sets nothing", one), "write --set NAME=VALUE");
    values[one.substr(0, at)] = one.substr(at + 1);
  }
  return values;
}

// On a terminal, as a run without a daemon does.
task<> ask_for_values(DaemonClient& client, const std::string& sequence, json::object& values) {
  const auto explained = co_await client.done("GET", "/api/1/sequences/sentences?file=" + encoded(sequence));
  for (const auto& one : explained.at("asked_at_start").as_array()) {
    sequence::Asked asked;
    const auto text = [&](const char* key) { return json::value_to<std::string>(one.at(key)); };
    asked.name = text("name");
    asked.about = text("about");
    asked.usual = text("usual");
    asked.allowed_text = text("allowed");
    if (values.contains(asked.name)) continue;
    if (const auto value = ask_at_start(asked); !value.empty()) values[asked.name] = value;
  }
}

task<> require_known(DaemonClient& client, const std::string& bench) {
  const auto about = co_await client.done("GET", "/api/1");
  std::vector<std::string> names;
  for (const auto& name : about.at("benches").as_array()) names.emplace_back(name.as_string());
  if (std::find(names.begin(), names.end(), bench) != names.end()) co_return;
  throw refused(fmt::format("the daemon at {} has no bench named '{}'", client.url(), base::escaped(bench)),
                yaml::would_be_right(bench, names, "name one of its benches"));
}

struct Done {
  FollowedResult result;
  json::value run;  // null: it never began
};

class Visit {
 public:
  Visit(const RunOptions& options, const std::string& bench, DaemonClient& client, base::Timeline& timeline,
        bench::Operator& person)
      : options_(options), bench_(bench), client_(client), timeline_(timeline), person_(person) {}

  task<Done> play() {
    const auto session = co_await client_.done("GET", "/api/1/session");
    const bool is_open = session.at("signing_in").as_string() == "not needed";
    const bool is_here = is_open || session.at("seat").as_string() == bench_;
    co_await require_known(client_, bench_);
    if (!is_here && !options_.answers.empty())
      throw refused(fmt::format("--answers: questions of {} are answered at that bench only", bench_),
                    "set EYELEVEL_SEAT to the secret of a seat there, or leave --answers out and answer at its page");
    const bool is_asked = options_.answers.empty() && ::isatty(STDIN_FILENO) == 1;
    auto values = values_set(options_.set);
    if (is_asked) co_await ask_for_values(client_, options_.sequence, values);
    Story story(options_.as_json ? stderr : stdout);
    Untold untold;
    const bool is_told = !options_.as_json || ::isatty(STDERR_FILENO) == 1;
    Done done;
    done.result = co_await follow_run({.timeline = timeline_,
                                       .client = client_,
                                       .bench = bench_,
                                       .person = person_,
                                       .starts_by_itself = !is_asked,
                                       .answers_here = is_here,
                                       .story = is_told ? static_cast<event::Listener&>(story) : untold},
                                      job_of(std::move(values)));
    if (!done.result.run.empty()) done.run = co_await client_.done("GET", "/api/1/runs/" + encoded(done.result.run));
    co_return done;
  }

 private:
  struct Untold final : event::Listener {
    void told(const event::Event&) override {}
  };

  json::object job_of(json::object values) const {
    json::object job{{"bench", bench_},
                     {"sequence", options_.sequence},
                     {"by", options_.by.empty() ? "at the terminal" : options_.by}};
    if (!options_.serial.empty()) job["serial"] = options_.serial;
    if (!options_.model.empty()) job["model"] = options_.model;
    if (!values.empty()) job["set"] = std::move(values);
    return job;
  }

  const RunOptions& options_;
  const std::string& bench_;
  DaemonClient& client_;
  base::Timeline& timeline_;
  bench::Operator& person_;
};

// The object that a run without a daemon prints.
json::object output_of(const Done& done, double wall_s) {
  json::array units;
  if (done.run.is_object()) {
    json::object unit = done.run.get_object();
    for (const char* not_of_a_unit : {"sequence", "bench", "begun_utc", "sentence", "captures"})
      unit.erase(not_of_a_unit);
    if (!unit.at("error").is_null()) unit["judgement"] = nullptr;
    unit["simulated_s"] = 0.0;
    unit["wall_s"] = wall_s;
    units.push_back(std::move(unit));
  }
  return {
      {"sequence", done.result.sequence}, {"seed", done.result.job}, {"again", nullptr}, {"units", std::move(units)}};
}

int status_of(const FollowedResult& result) {
  if (result.ended != "finished" || result.is_failed) return not_finished;
  return !result.judgement || result.judgement == metrology::Judgement::pass ? all_met : not_met;
}

int run_at(const DaemonPlace& place, const RunOptions& options, const std::string& bench) {
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  DaemonClient client(*timeline, place);
  const auto person = options.answers.empty() ? terminal_operator(loop.get_executor(), options.by)
                                              : answers_from_file(options.answers, options.by);
  Visit visit(options, bench, client, *timeline, *person);
  Done done;
  const auto play = [](Visit& one, Done& into) -> task<> { into = co_await one.play(); };
  timeline->run(play(visit, done));
  if (options.as_json)
    put(stdout, record::text_of(output_of(done, base::to_seconds(timeline->now()))) + "\n");
  else if (!done.result.run.empty())
    put(stdout, fmt::format("run {}, kept by the daemon at {}\n", done.result.run, client.url()));
  return status_of(done.result);
}

// A daemon runs the files of its folders, by their place there.
std::string place_in(const std::string& folder, const std::string& file, const std::string& url) {
  const auto place = fs::weakly_canonical(file).lexically_relative(fs::weakly_canonical(folder)).generic_string();
  if (!place.empty() && place != "." && !place.starts_with("..")) return place;
  throw refused(fmt::format("{}: the daemon at {} has this bench, and uses the files of {} only", file, url, folder),
                "put it there, or stop that daemon; --alone uses the bench beside it");
}

bool shares_an_instrument(const NotedBench& one, const NotedBench& other) {
  return std::any_of(one.resources.begin(), one.resources.end(), [&](const std::string& resource) {
    return std::find(other.resources.begin(), other.resources.end(), resource) != other.resources.end();
  });
}

int run_at_owner(const DaemonNote& note, const std::string& bench, RunOptions options) {
  put(stderr,
      fmt::format("eyelevel: the daemon at {} owns this bench, {}, and does this run; --alone does without it\n",
                  note.url, bench));
  require_for_daemon(options, "; --alone does without the daemon");
  options.sequence = place_in(note.sequences, options.sequence, note.url);
  if (!options.model.empty()) options.model = place_in(note.models, options.model, note.url);
  return run_at(daemon_place({note.url, note.fingerprint}), options, bench);
}

}  // namespace

int run_at_daemon(const RunOptions& options) {
  require_for_daemon(options, "");
  return run_at(daemon_place(options.daemon), options, options.bench);
}

std::optional<int> run_at_owner(const RunOptions& options, const bench::BenchFile& bench) {
  const auto ours = noted(bench);
  const auto notes = running_daemons();
  for (const auto& note : notes) {
    if (note.is_simulated) continue;
    for (const auto& its : note.benches)
      if (shares_an_instrument(its, ours)) return run_at_owner(note, its.name, options);
  }
  for (const auto& note : notes)
    put(stderr, fmt::format("eyelevel: a daemon runs at {}, {}; this run does without it\n", note.url,
                            note.is_simulated ? "with simulated benches" : "with other benches"));
  return std::nullopt;
}

}  // namespace eyelevel::program
