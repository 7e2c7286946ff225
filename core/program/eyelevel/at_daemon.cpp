// SPDX-License-Identifier: Apache-2.0
// `eyelevel benches` and `eyelevel jobs`: what a running daemon has, and the few deeds that need no page.
#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <boost/json.hpp>
#include <cstdint>
#include <memory>
#include <string>

#include "core/program/daemon_client/client.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/record/books/names.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;
using record::shown;

struct Options {
  DaemonOptions daemon{.url = "http://127.0.0.1:8470", .certificate = {}};
  std::string bench;
  std::int64_t job = 0;
  bool as_json = false;
};

task<> ask(DaemonClient& client, std::string method, std::string target, json::value& into) {
  into = co_await client.done(std::move(method), std::move(target));
}

json::value done(const Options& options, std::string method, std::string target) {
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  DaemonClient client(*timeline, daemon_place(options.daemon));
  json::value answer;
  timeline->run(ask(client, std::move(method), std::move(target), answer));
  return answer;
}

std::string text(const json::value& of, const char* key) {
  const auto& value = of.at(key);
  return value.is_null() ? std::string() : shown(json::value_to<std::string>(value));
}

std::string health_text(const json::value& health) {
  if (health.is_null()) return "not asked yet";
  const std::string at = "asked " + text(health, "asked_utc");
  std::string told = health.at("answers").as_bool() ? text(health, "identity") + ", " + at : "does not answer, " + at;
  if (!health.at("answers").as_bool() && !health.at("seen_utc").is_null())
    told += ", answered last " + text(health, "seen_utc");
  if (const auto& trouble = health.at("trouble"); !trouble.is_null()) told += ": " + text(trouble, "message");
  return told;
}

std::string proof_text(const json::value& proof) {
  if (proof.is_null() || proof.at("run").is_null()) return "never proven";
  return fmt::format("{} by run {}, {}", proof.at("proven").as_bool() ? "proven" : "not proven", text(proof, "run"),
                     text(proof, "at_utc"));
}

int benches(const Options& options) {
  const auto told = done(options, "GET", "/api/1/benches");
  if (options.as_json) {
    fmt::print("{}\n", json::serialize(told));
    return all_met;
  }
  for (const auto& bench : told.at("benches").as_array()) {
    fmt::print("{}: {}; {}\n", text(bench, "name"), text(bench, "state"), proof_text(bench.at("proof")));
    for (const auto& one : bench.at("instruments").as_array()) {
      const std::string due = text(one, "calibration_due");
      fmt::print("  {} ({}): {}; calibration due {}\n", text(one, "role"), text(one, "kind"),
                 health_text(one.at("health")), due.empty() ? "never stated" : due);
    }
  }
  return all_met;
}

int ask_instruments(const Options& options) {
  done(options, "POST", "/api/1/benches/" + encoded(options.bench) + "/ask-instruments");
  fmt::print("The instruments of {} are asked; `eyelevel benches` shows what they say.\n", shown(options.bench));
  return all_met;
}

int jobs(const Options& options) {
  const auto told = done(options, "GET", "/api/1/jobs");
  if (options.as_json) {
    fmt::print("{}\n", json::serialize(told));
    return all_met;
  }
  for (const auto& job : told.at("jobs").as_array())
    fmt::print("{:>6}  {:<12} {:<16} {:<16} {}\n", job.at("id").as_int64(), text(job, "state"), text(job, "bench"),
               text(job, "serial"), text(job, "sequence"));
  return all_met;
}

int stop_job(const Options& options) {
  done(options, "POST", fmt::format("/api/1/jobs/{}/stop", options.job));
  fmt::print("Job {} stops; its closing leaves every instrument safe.\n", options.job);
  return all_met;
}

}  // namespace

void add_benches(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "benches", "Benches of a running daemon, and how their instruments are",
                             "eyelevel benches\n  eyelevel benches ask lanternfield-1");
  command->add_flag("--json", options->as_json, "print JSON");
  add_daemon_options(*command, options->daemon);
  command->require_subcommand(0, 1);
  auto asking = std::make_shared<Options>();
  auto* ask = command->add_subcommand("ask", "Asks each instrument of an idle bench who it is, and for its errors");
  ask->footer("Example:\n  eyelevel benches ask lanternfield-1");
  ask->add_option("bench", asking->bench, "its name")->required();
  add_daemon_options(*ask, asking->daemon);
  ask->callback([asking, &chosen] { chosen = [asking] { return ask_instruments(*asking); }; });
  command->callback([options, command, &chosen] {
    if (command->get_subcommands().empty()) chosen = [options] { return benches(*options); };
  });
}

void add_jobs(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command =
      subcommand(app, "jobs", "Jobs of a running daemon: what needs somebody, what comes next, what is over",
                 "eyelevel jobs\n  eyelevel jobs stop 12");
  command->add_flag("--json", options->as_json, "print JSON");
  add_daemon_options(*command, options->daemon);
  command->require_subcommand(0, 1);
  auto stopping = std::make_shared<Options>();
  auto* stop = command->add_subcommand("stop", "Stops the job of that number, and no other");
  stop->footer("Example:\n  eyelevel jobs stop 12");
  stop->add_option("number", stopping->job, "as `eyelevel jobs` lists it")->required();
  add_daemon_options(*stop, stopping->daemon);
  stop->callback([stopping, &chosen] { chosen = [stopping] { return stop_job(*stopping); }; });
  command->callback([options, command, &chosen] {
    if (command->get_subcommands().empty()) chosen = [options] { return jobs(*options); };
  });
}

}  // namespace eyelevel::program
