// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyeleveld/benches.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <memory>
#include <set>
#include <system_error>
#include <utility>

#include "core/base/error.hpp"
#include "core/program/files.hpp"
#include "core/program/links.hpp"
#include "instruments/phrasebook/open.hpp"
#include "instruments/transport/transports.hpp"

namespace eyelevel::program {
namespace {

std::vector<std::string> files_in(const std::string& folder) {
  std::error_code error;
  std::vector<std::string> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder, error))
    if (entry.path().extension() == ".yaml") files.push_back(entry.path().string());
  if (error)
    throw base::Error(base::ErrorCode::bad_input, fmt::format("--benches {}: {}", folder, error.message()),
                      "name a folder of bench files");
  std::sort(files.begin(), files.end());
  return files;
}

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

}  // namespace

Benches::Benches(std::vector<std::string> files, std::string folder, bool is_simulated, const Equipment& equipment,
                 base::Timeline& timeline)
    : files_(std::move(files)),
      folder_(std::move(folder)),
      is_simulated_(is_simulated),
      equipment_(equipment),
      timeline_(timeline),
      simulated_(timeline, phrasebooks_) {}

std::vector<service::BenchSetting> Benches::read() {
  auto files = files_;
  if (!folder_.empty())
    for (auto& file : files_in(folder_)) files.push_back(std::move(file));
  const auto benches = load_benches(files);
  if (!is_simulated_) require_one_owner(benches);
  std::vector<service::BenchSetting> settings;
  for (const auto& bench : benches) settings.push_back(setting_of(bench));
  return settings;
}

service::BenchSetting Benches::setting_of(const bench::BenchFile& bench) {
  if (is_simulated_) return simulated_.add(bench);
  const auto reach =
      std::make_shared<transport::Transports>(every_link(without_driven(bench, equipment_.plugins), phrasebooks_));
  add_links(*reach, equipment_.plugins);
  return {.bench = bench,
          .open = opener(equipment_.plugins, phrasebook::opener(phrasebooks_, *reach, timeline_), timeline_),
          .reach = reach};
}

}  // namespace eyelevel::program
