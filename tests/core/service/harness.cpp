// SPDX-License-Identifier: Apache-2.0
#include "tests/core/service/harness.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/json.hpp>
#include <filesystem>
#include <fstream>
#include <utility>

#include "core/record/journal/run_journal.hpp"
#include "core/service/http/target.hpp"

namespace eyelevel::test {

namespace asio = boost::asio;
namespace json = boost::json;

task<> Collected::text(std::string message) {
  all.push_back(std::move(message));
  came.strike();
  co_return;
}

task<> Collected::binary(std::string message) { return text(std::move(message)); }

std::vector<json::value> Collected::of(std::string_view kind) const {
  std::vector<json::value> list;
  for (const auto& one : all)
    if (auto value = json::parse(one); value.at("kind").as_string() == json::string_view(kind.data(), kind.size()))
      list.push_back(std::move(value));
  return list;
}

Daemon::Daemon()
    : store(record::open_file_store(folder.path() / "records.db")),
      jobs(record::open_jobs((folder.path() / "records.db").string(), "this daemon")),
      house{*bench.sim.timeline, language(), folder.path() / "sequences", folder.path() / "models", *store, *jobs,
            store_thread},
      ledger(folder.path() / "access.db"),
      access(*bench.sim.timeline, ledger, store_thread),
      rehearsals(
          {.troubles = [] { return json::array{json::object{{"name", "disc dirty"}}}; },
           .rehearse =
               [](const service::RehearsalOrder& order, const std::function<void(int)>& done, const std::stop_token&) {
                 done(order.units);
                 return json::object{{"sequence", order.sequence}, {"units", json::array()}};
               }}),
      retention(*bench.sim.timeline,
                service::RetentionRules{210, std::chrono::days(90), std::chrono::days(730), folder.path() / "archive"},
                [this] { return record::open_file_store(folder.path() / "records.db"); }) {
  std::filesystem::create_directory(house.sequences);
  std::filesystem::create_directory(house.models);
  std::filesystem::copy_file("examples/models/lf-2.yaml", house.models / "lf-2.yaml");
  add_sequence(quiet, around("  - note: nothing to be seen\n"));
  add_sequence(
      asking,
      around("  - prompt: Insert the pressed test disc\n    within: 10 min\n"
             "  - prompt: Is the lens clean?\n    answer: yes or no\n    resume here: yes\n    within: 10 min\n"));
  owner = std::make_unique<service::BenchOwner>(
      house, service::BenchSetting{.bench = bench.file,
                                   .open = [this](const bench::InstrumentEntry& entry) { return bench.open(entry); }});
  owners = {owner.get()};
  api = std::make_unique<service::Api>(house, access, rehearsals, retention, owners, "eyelevel 0", service::Page{});
}

Daemon::~Daemon() { store_thread.settle(); }

void Daemon::add_sequence(const std::string& file, const std::string& text) const {
  std::filesystem::create_directories((house.sequences / file).parent_path());
  std::ofstream(house.sequences / file) << text;
}

namespace {

task<> beside_work(Daemon& daemon, const std::function<task<>(Daemon&)>& script) {
  asio::co_spawn(co_await asio::this_coro::executor, daemon.owner->work(), asio::detached);
  std::exception_ptr failure;
  try {
    co_await script(daemon);
  } catch (...) {
    failure = std::current_exception();
  }
  daemon.owner->stop();
  while (!daemon.owner->is_over()) co_await daemon.owner->feed().changed();
  if (failure) std::rethrow_exception(failure);
}

}  // namespace

// Afterwards viewers that were cut come to their end, while what they looked at is still there.
void Daemon::run(const std::function<task<>(Daemon&)>& script) {
  bench.sim.run(beside_work(*this, script));
  bench.sim.loop.restart();
  while (owner->feed().is_watched()) bench.sim.loop.run_one();
}
void Daemon::run_alone(const std::function<task<>(Daemon&)>& script) { bench.sim.run(script(*this)); }

task<service::http::Response> Daemon::ask(std::string method, std::string path, std::string body,
                                          std::map<std::string, std::string> more) {
  service::http::Request request;
  const auto target = service::http::read_target(path);
  if (!target) throw std::logic_error("no target: " + path);
  request.method = std::move(method);
  request.path = target->path;
  request.query = target->query;
  request.headers = {{"host", "127.0.0.1:8470"}, {"content-type", "application/json"}};
  request.headers.insert(more.begin(), more.end());
  request.peer = "192.0.2.1";
  request.body = std::move(body);
  co_return co_await api->answer(request);
}

task<json::value> Daemon::get(std::string path) {
  const auto response = co_await ask("GET", std::move(path));
  co_return json::parse(response.body);
}

task<std::int64_t> Daemon::add_job(std::string sequence, std::string serial) {
  const json::object body{{"bench", bench.file.name}, {"sequence", sequence}, {"serial", serial}};
  const auto response = co_await ask("POST", "/api/1/jobs", json::serialize(body));
  if (response.status != 201) throw std::runtime_error(response.body);
  co_return json::parse(response.body).at("id").as_int64();
}

task<> Daemon::until(std::string state) {
  while (service::name_of(owner->state()) != state) co_await owner->feed().changed();
}

task<std::int64_t> Daemon::until_asked() {
  while (!owner->person().open()) co_await owner->feed().changed();
  co_return owner->person().open()->number;
}

task<> Daemon::until_job(std::int64_t job, record::JobState state) {
  while (jobs->find(job).state != state) co_await owner->feed().changed();
}

std::int64_t Daemon::left_in_the_middle(bool is_reserved, bool is_begun, bool is_closed) {
  record::Job job;
  job.bench = bench.file.name;
  job.sequence = quiet;
  const auto id = jobs->add(job);
  jobs->take(job.bench, [](const record::Job&) { return true; }, {bench.sim.timeline->utc(), service::lease_length});
  if (!is_reserved) return id;
  const auto run = store->reserve_run(bench.sim.timeline->utc());
  jobs->give_run(id, run);
  event::Event event;
  event.run = run;
  event.number = 1;
  event.utc = bench.sim.timeline->utc();
  event::Begun begun;
  begun.sequence = "test";
  begun.bench = job.bench;
  begun.serial = "LF2-00417";
  event.body = begun;
  if (is_begun) store->write(run, std::vector{event});
  event.number = 2;
  event.body = event::Closed{"finished", std::nullopt};
  if (is_closed) store->write(run, std::vector{event});
  return id;
}

}  // namespace eyelevel::test
