// SPDX-License-Identifier: Apache-2.0
// `eyeleveld`: the daemon. Arguments in, benches served until it is told to stop.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <boost/json.hpp>
#include <csignal>
#include <cstdio>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/certificate.hpp"
#include "core/base/error.hpp"
#include "core/base/kept_memory.hpp"
#include "core/program/daemon_note.hpp"
#include "core/program/describe.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/eyeleveld/benches.hpp"
#include "core/program/eyeleveld/daemon.hpp"
#include "core/program/eyeleveld/floor.hpp"
#include "core/program/eyeleveld/page.hpp"
#include "core/program/eyeleveld/rehearser.hpp"
#include "core/program/eyeleveld/state_folder.hpp"
#include "core/program/eyeleveld/tls_files.hpp"
#include "core/program/eyeleveld/user.hpp"
#include "core/program/failure.hpp"
#include "core/program/output.hpp"
#include "core/program/plugins.hpp"
#include "core/program/store_place.hpp"
#include "core/record/store/spool.hpp"
#include "core/service/library.hpp"
#include "core/service/retention.hpp"
#include "core/service/schedule.hpp"
#include "core/yaml/load.hpp"

namespace eyelevel::program {
namespace {

struct Options {
  std::vector<std::string> benches;
  std::string bench_folder;
  std::string state;
  std::string store;
  std::string listen = "127.0.0.1:8470";
  std::string sequences = "sequences";
  std::string models = "models";
  std::vector<std::string> plugins;
  std::string schedules;
  std::string retention;
  std::string tls_certificate;
  std::string tls_key;
  bool requires_login = false;
  bool simulated = false;
  bool as_json = false;
};

void require_folder(const char* option, const std::string& folder) {
  if (std::filesystem::is_directory(folder)) return;
  throw base::Error(base::ErrorCode::bad_input, fmt::format("{} {}: there is no such folder", option, folder),
                    fmt::format("name the folder with {}", option));
}

// Plainly at a loopback address, where nobody listens in; with TLS everywhere else.
Address address_of(const Options& options, const StateFolder& state, base::UtcTime now) {
  Address address{.listen = options.listen, .tls = {}, .requires_login = options.requires_login};
  if (options.tls_certificate.empty() != options.tls_key.empty())
    throw base::Error(base::ErrorCode::bad_input, "a certificate is of no use without its key",
                      "give both --tls-certificate and --tls-key");
  if (!options.tls_certificate.empty())
    address.tls = given_tls(options.tls_certificate, options.tls_key);
  else if (!service::http::is_loopback(options.listen))
    address.tls = own_tls(state.path(), options.listen, now);
  return address;
}

void tell_serving(const Options& options, const Address& address, std::size_t benches, const std::string& url) {
  const auto fingerprint = address.tls ? base::fingerprint_of(address.tls->certificate_pem) : std::string();
  if (options.as_json) {
    boost::json::object told{{"url", url}, {"openapi", url + "/api/1/openapi.json"}};
    if (address.tls) told["fingerprint"] = fingerprint;
    put(stdout, boost::json::serialize(told) + "\n");
  } else {
    put(stdout, fmt::format("eyeleveld serves {} {} at {}\n", benches, benches == 1 ? "bench" : "benches", url));
    if (address.tls) put(stdout, fmt::format("  its certificate: SHA-256 {}\n", fingerprint));
  }
  std::fflush(stdout);
}

DaemonNote note_of(const Options& options, const Address& address, const std::vector<service::BenchOwner*>& owners,
                   const std::string& url) {
  const auto absolute = [](const std::string& folder) { return std::filesystem::weakly_canonical(folder).string(); };
  DaemonNote note{.url = url,
                  .fingerprint = address.tls ? base::fingerprint_of(address.tls->certificate_pem) : std::string(),
                  .sequences = absolute(options.sequences),
                  .models = absolute(options.models),
                  .is_simulated = options.simulated,
                  .benches = {}};
  for (const auto* owner : owners) note.benches.push_back(noted(owner->bench()));
  return note;
}

// What keeps a job from being run here; empty: nothing.
std::string why_not(const record::Job& job, const service::House& house,
                    const std::vector<service::BenchOwner*>& owners) {
  const auto owner =
      std::find_if(owners.begin(), owners.end(), [&](const auto* one) { return one->bench().name == job.bench; });
  if (owner == owners.end()) return fmt::format("there is no bench \"{}\"", job.bench);
  try {
    const auto sequence = service::load_sequence(house.sequences, job.sequence, house.language, job.given);
    service::require_fit(sequence, (*owner)->bench(), service::load_model(house.models, job.model));
  } catch (const base::Error& error) {
    return base::describe(error.record());
  }
  return {};
}

std::vector<service::Schedule> schedules_of(const std::string& path, const service::House& house,
                                            const std::vector<service::BenchOwner*>& owners) {
  if (path.empty()) return {};
  auto read = service::read_schedules(yaml::load_file(path),
                                      [&](const record::Job& job) { return why_not(job, house, owners); });
  for (const auto& mistake : read.mistakes.list()) put(stderr, yaml::print(mistake) + "\n");
  if (!read.mistakes.fine())
    throw base::Error(base::ErrorCode::bad_input, fmt::format("{} cannot be used as it stands", path),
                      "mend what is listed above");
  return std::move(read.schedules);
}

std::optional<service::RetentionRules> retention_of(const std::string& path) {
  if (path.empty()) return std::nullopt;
  auto read = service::read_retention(yaml::load_file(path));
  for (const auto& mistake : read.mistakes.list()) put(stderr, yaml::print(mistake) + "\n");
  if (!read.mistakes.fine())
    throw base::Error(base::ErrorCode::bad_input, fmt::format("{} cannot be used as it stands", path),
                      "mend what is listed above");
  return std::move(read.rules);
}

struct Shared {
  std::unique_ptr<record::Store> store;
  std::function<void()> catch_up;
};

// A server may be out of reach for a while: what is measured meanwhile stays in the state folder.
Shared open_shared(const std::string& place, const StateFolder& state) {
  if (!record::is_database(place)) return {open_store_to_write(place), [] {}};
  auto spooled = std::make_unique<record::SpooledStore>([place] { return record::open_postgres_store(place); },
                                                        record::open_file_store(state.spool()));
  spooled->catch_up();
  auto catch_up = [store = spooled.get()] { store->catch_up(); };
  return {std::move(spooled), std::move(catch_up)};
}

int run(const Options& options) {
  const auto equipment = equip_and_tell(options.plugins);
  require_folder("--sequences", options.sequences);
  require_folder("--models", options.models);
  auto rules = retention_of(options.retention);

  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  Benches benches(options.benches, options.bench_folder, options.simulated, equipment, *timeline);
  auto settings = benches.read();
  const StateFolder state(options.state);
  const std::string place = options.store.empty() ? state.records().string() : options.store;
  const auto [store, catch_up] = open_shared(place, state);
  const auto jobs = record::open_jobs(place, state.owner());
  record::StoreThread store_thread;
  service::House house{*timeline, equipment.language, options.sequences, options.models, *store, *jobs, store_thread};

  Floor floor(house, benches, std::move(settings));
  const auto& owners = floor.owners();

  service::Ledger ledger(state.access());
  record::StoreThread access_thread;  // so that nobody's signing in waits for a server out of reach
  service::Access access(*timeline, ledger, access_thread);
  auto schedules = schedules_of(options.schedules, house, owners);
  service::Rehearsals rehearsals(rehearser(options.sequences, options.models, equipment.language));
  service::Retention retention(*timeline, std::move(rules), [place] { return open_store_to_write(place); });
  service::Api api(house, access, rehearsals, retention, owners, "eyelevel " EYELEVEL_VERSION, page(), schedules);
  const auto address = address_of(options, state, timeline->utc());
  OwnDaemonNote own_note;
  DaemonNote note;
  serve(loop, house, owners, api, access, {address, std::move(schedules), catch_up, retention},
        {.serving =
             [&](const std::string& url) {
               note = note_of(options, address, owners, url);
               own_note.put(note);
               tell_serving(options, address, owners.size(), url);
             },
         .reload =
             [&] {
               note.benches = floor.reload();
               own_note.put(note);
             },
         .ended = [&](const service::BenchOwner& owner) { floor.ended(owner); }});
  store_thread.settle();
  access_thread.settle();
  return all_met;
}

int run_main(int argc, char** argv) {
  CLI::App app("eyeleveld: benches that work unattended, their page and their API", "eyeleveld");
  app.set_version_flag("--version", "eyeleveld " EYELEVEL_VERSION);
  Options options;
  app.add_option("--bench", options.benches, "a bench file; may be given again")->allow_extra_args(false);
  app.add_option("--benches", options.bench_folder,
                 "a folder whose .yaml files are bench files; those that come or go are heeded on a reload");
  app.add_option("--state", options.state,
                 "folder of this daemon, for records and jobs; usual: $XDG_STATE_HOME/eyelevel");
  app.add_option("--store", options.store,
                 "where runs and jobs are kept: a file, or postgresql://USER@HOST:PORT/DATABASE, which any number of "
                 "daemons may share; usual: records.db in the folder of --state");
  app.add_option("--listen", options.listen,
                 "address and port of page and API (usual: 127.0.0.1:8470; port 0: a free one)");
  app.add_option("--sequences", options.sequences, "folder of the sequences that may be run (usual: sequences)");
  app.add_option("--models", options.models, "folder of the model sheets (usual: models)");
  add_plugins_option(app, options.plugins);
  app.add_option("--schedules", options.schedules, "a file that says which jobs come by the clock");
  app.add_option("--retention", options.retention,
                 "a file that says which old captures are thinned out and which old runs are archived; usual: none");
  app.add_option("--tls-certificate", options.tls_certificate,
                 "a certificate as PEM; usual: none at a loopback address, elsewhere one of its own making");
  app.add_option("--tls-key", options.tls_key, "the key of that certificate as PEM");
  app.add_flag("--require-login", options.requires_login, "at a loopback address, too, everybody signs in");
  app.add_flag("--simulated", options.simulated,
               "simulate every bench in the daemon: instruments, player, discs and hands");
  app.add_flag("--json", options.as_json, "print one line of JSON once it serves");
  app.footer(
      "Example:\n  eyeleveld --bench examples/bench.yaml --models examples/models --simulated --state /tmp/eyelevel");
  app.set_config("--config", "", "read options from this file: NAME = VALUE, one a line, a list in [ ]");
  app.allow_config_extras(CLI::config_extras_mode::error);
  std::string described;
  add_describe(app, described);
  std::function<int()> chosen;
  add_user_command(app, chosen);
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? all_met : wrong_input;
  }
  try {
    if (!described.empty()) {
      print_description(app, described);
      return all_met;
    }
    if (chosen) return chosen();
    if (options.benches.empty() && options.bench_folder.empty())
      throw base::Error(base::ErrorCode::bad_input, "no bench is named",
                        "--bench FILE, as often as there are benches, or --benches FOLDER");
    return run(options);
  } catch (...) {
    return told_failure("eyeleveld", std::current_exception());
  }
}

}  // namespace
}  // namespace eyelevel::program

int main(int argc, char** argv) {
  std::signal(SIGPIPE, SIG_IGN);
  std::signal(SIGXFSZ, SIG_IGN);
  std::signal(SIGHUP, SIG_IGN);  // until it is heard: the bench files have just been read
  eyelevel::program::hold_standard_streams();
  eyelevel::base::keep_freed_memory();
  return eyelevel::program::status_after_output(eyelevel::program::run_main(argc, argv));
}
