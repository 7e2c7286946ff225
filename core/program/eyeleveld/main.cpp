// SPDX-License-Identifier: Apache-2.0
// `eyeleveld`: the daemon. Arguments in, benches served until it is told to stop.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/json.hpp>
#include <csignal>
#include <cstdio>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/kept_memory.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/eyeleveld/daemon.hpp"
#include "core/program/eyeleveld/page.hpp"
#include "core/program/eyeleveld/simulated.hpp"
#include "core/program/eyeleveld/state_folder.hpp"
#include "core/program/failure.hpp"
#include "core/program/files.hpp"
#include "core/program/links.hpp"
#include "core/program/output.hpp"
#include "core/program/plugins.hpp"
#include "core/program/store_place.hpp"
#include "core/record/store/spool.hpp"

namespace eyelevel::program {
namespace {

struct Options {
  std::vector<std::string> benches;
  std::string state;
  std::string store;
  std::string listen = "127.0.0.1:8470";
  std::string sequences = "sequences";
  std::string models = "models";
  std::vector<std::string> plugins;
  bool simulated = false;
  bool as_json = false;
};

std::vector<bench::BenchFile> load_benches(const std::vector<std::string>& paths) {
  std::vector<bench::BenchFile> benches;
  std::set<std::string> names;
  for (const auto& path : paths) {
    benches.push_back(load_bench(path));
    if (!names.insert(benches.back().name).second)
      throw base::Error(base::ErrorCode::bad_input,
                        fmt::format("{}: there are two benches \"{}\"", path, benches.back().name),
                        "give each bench its own name");
  }
  return benches;
}

// Nothing is opened yet: an instrument belongs to one bench.
void require_one_owner(const std::vector<bench::BenchFile>& benches) {
  std::map<std::string, std::string> owner;
  for (const auto& bench : benches)
    for (const auto& entry : bench.instruments) {
      const auto [at, is_new] = owner.emplace(entry.resource, bench.name);
      if (!is_new && at->second != bench.name)
        throw base::Error(base::ErrorCode::bad_input,
                          fmt::format("{} stands on two benches, {} and {}", entry.resource, at->second, bench.name),
                          "take it out of one of the bench files");
    }
}

void require_folder(const char* option, const std::string& folder) {
  if (std::filesystem::is_directory(folder)) return;
  throw base::Error(base::ErrorCode::bad_input, fmt::format("{} {}: there is no such folder", option, folder),
                    fmt::format("name the folder with {}", option));
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
  const auto benches = load_benches(options.benches);
  if (!options.simulated) require_one_owner(benches);
  require_folder("--sequences", options.sequences);
  require_folder("--models", options.models);
  const StateFolder state(options.state);

  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  const std::string place = options.store.empty() ? state.records().string() : options.store;
  const auto [store, catch_up] = open_shared(place, state);
  const auto jobs = record::open_jobs(place, state.owner());
  record::StoreThread store_thread;
  service::House house{*timeline, equipment.language, options.sequences, options.models, *store, *jobs, store_thread};

  const auto phrasebooks = phrasebook::standard_phrasebooks();
  SimulatedBenches simulated(*timeline, phrasebooks);
  std::vector<std::unique_ptr<transport::Transports>> reaches;  // of real benches; what opens refers to them
  std::vector<std::unique_ptr<service::BenchOwner>> owned;
  std::vector<service::BenchOwner*> owners;
  for (const auto& bench : benches) {
    service::BenchSetting setting;
    if (options.simulated) {
      setting = simulated.add(bench);
    } else {
      auto& reach = *reaches.emplace_back(
          std::make_unique<transport::Transports>(every_link(without_driven(bench, equipment.plugins), phrasebooks)));
      add_links(reach, equipment.plugins);
      setting = {.bench = bench,
                 .open = opener(equipment.plugins, phrasebook::opener(phrasebooks, reach, *timeline), *timeline)};
    }
    owners.push_back(owned.emplace_back(std::make_unique<service::BenchOwner>(house, std::move(setting))).get());
  }

  service::Api api(house, owners, "eyelevel " EYELEVEL_VERSION, page());
  serve(loop, house, owners, api, options.listen, catch_up, [&](const std::string& url) {
    if (options.as_json)
      fmt::print("{}\n",
                 boost::json::serialize(boost::json::object{{"url", url}, {"openapi", url + "/api/1/openapi.json"}}));
    else
      fmt::print("eyeleveld serves {} {} at {}\n", owners.size(), owners.size() == 1 ? "bench" : "benches", url);
    std::fflush(stdout);
  });
  store_thread.settle();
  return all_met;
}

int run_main(int argc, char** argv) {
  CLI::App app("eyeleveld: benches that work unattended, their page and their API", "eyeleveld");
  app.set_version_flag("--version", "eyeleveld " EYELEVEL_VERSION);
  Options options;
  app.add_option("--bench", options.benches, "a bench file; may be given again")->required()->allow_extra_args(false);
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
  app.add_flag("--simulated", options.simulated,
               "simulate every bench in the daemon: instruments, player, discs and hands");
  app.add_flag("--json", options.as_json, "print one line of JSON once it serves");
  app.footer(
      "Example:\n  eyeleveld --bench examples/bench.yaml --models examples/models --simulated --state /tmp/eyelevel");
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? all_met : wrong_input;
  }
  try {
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
  eyelevel::program::hold_standard_streams();
  eyelevel::base::keep_freed_memory();
  return eyelevel::program::status_after_output(eyelevel::program::run_main(argc, argv));
}
