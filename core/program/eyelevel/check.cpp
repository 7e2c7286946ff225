// SPDX-License-Identifier: Apache-2.0
// `eyelevel check FILE...`: every mistake as file:line:column, what is wrong, what would be right.
#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <boost/json.hpp>
#include <memory>
#include <optional>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/files.hpp"
#include "core/program/plugins.hpp"
#include "core/program/store_place.hpp"
#include "core/record/bench_proof.hpp"
#include "core/report/words.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

struct Options {
  std::vector<std::string> files;
  std::string bench;
  std::string store;
  std::vector<std::string> plugins;
  bool as_json = false;
};

json::object to_json(const yaml::Mistake& m) {
  return {{"file", m.file},       {"line", m.line},
          {"column", m.column},   {"severity", yaml::name_of(m.severity)},
          {"message", m.message}, {"suggestion", m.suggestion}};
}

// A bench that is not proven, or not lately, is worth a remark and never a stop.
std::optional<yaml::Mistake> proof_remark(const Options& options, const bench::BenchFile& bench) {
  event::BenchProof proof;
  try {
    const auto store = open_store_to_read(options.store);
    boost::asio::io_context loop(1);
    proof = record::last_proof(*store, bench.name, base::wall_timeline(loop)->utc(), bench.proof_lasts_s);
  } catch (const base::Error& error) {
    if (error.record().code != base::ErrorCode::not_found) throw;  // no store: nothing was ever proven
  }
  if (report::is_proven(proof)) return std::nullopt;
  return yaml::Mistake{bench.file,
                       1,
                       1,
                       yaml::Severity::warning,
                       report::proof_text(proof),
                       "eyelevel run sequences/ready/bench-proof.yaml --bench " + bench.file};
}

int check(const Options& options) {
  const auto equipment = equip_and_tell(options.plugins);
  const auto& language = equipment.language;
  std::optional<bench::BenchFile> bench;
  if (!options.bench.empty()) bench = load_bench(options.bench);
  json::array list;
  bool wrong = false;
  const auto tell = [&](const yaml::Mistake& mistake) {
    wrong = wrong || mistake.severity == yaml::Severity::error;
    if (options.as_json)
      list.push_back(to_json(mistake));
    else
      fmt::print("{}\n", yaml::print(mistake));
  };
  for (const auto& file : options.files) {
    const auto mistakes = bench ? check_file(file, language, *bench) : check_file(file, language);
    for (const auto& mistake : mistakes) tell(mistake);
    if (mistakes.empty() && !options.as_json) fmt::print("{}: nothing wrong\n", file);
  }
  if (bench)
    if (const auto remark = proof_remark(options, *bench)) tell(*remark);
  if (options.as_json) fmt::print("{}\n", json::serialize(list));
  return wrong ? wrong_input : all_met;
}

}  // namespace

void add_check(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "check", "Every mistake in a sequence, bench file, model sheet or list of test discs",
                             "eyelevel check sequences/ready/pickup-level.yaml examples/bench.yaml");
  command->add_option("files", options->files, "YAML files")->required();
  command->add_option("--bench", options->bench,
                      "hold sequences against this bench file, and say when the bench is not proven");
  command->add_option("--store", options->store, "the store that knows its proofs; usual: as for run");
  add_plugins_option(*command, options->plugins);
  command->add_flag("--json", options->as_json, "print JSON");
  command->callback([options, &chosen] { chosen = [options] { return check(*options); }; });
}

}  // namespace eyelevel::program
