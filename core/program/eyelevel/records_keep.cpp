// SPDX-License-Identifier: Apache-2.0
// `eyelevel records thin-out|archive|restore|backup`: what old records give up, and copies of them. By rules and every
// day the daemon does it (core/service/retention).
#include <fmt/format.h>

#include <filesystem>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/records.hpp"
#include "core/program/state_backup.hpp"
#include "core/program/store_place.hpp"
#include "core/record/archive/put_away.hpp"
#include "core/report/thin_out.hpp"

namespace eyelevel::program {

namespace {

namespace json = boost::json;
using base::Error;
using base::ErrorCode;

struct KeepOptions : BookOptions {
  std::string file;
  std::string state;
  long long after_days = 0;
  bool is_dry = false;
};

record::Said said_of_age(const KeepOptions& options) {
  if (options.is_dry) return {};
  auto said = said_now(options, false);
  if (said.because.empty()) said.because = fmt::format("older than {} days", options.after_days);
  return said;
}

base::UtcTime before_of(const KeepOptions& options) { return utc_now() - std::chrono::days(options.after_days); }

int thin_out(const KeepOptions& options) {
  const auto said = said_of_age(options);
  const auto store = open_store_to_read(options.store);
  json::array runs;
  std::vector<std::string> lines;
  std::size_t captures = 0;
  for (const auto& run : report::runs_to_thin_out(*store, before_of(options))) {
    const auto plan = report::plan_thinning(*store, run.id);
    if (!options.is_dry && !report::thin_out(*store, plan, said)) continue;
    if (plan.said.gone.empty()) continue;
    captures += plan.said.gone.size();
    runs.push_back(json::object{
        {"run", run.id}, {"captures", plan.said.gone.size()}, {"kept", plan.said.kept}, {"samples", plan.samples}});
    lines.push_back(fmt::format("{}  {} of {} captures, {} samples", run.id, plan.said.gone.size(),
                                plan.said.gone.size() + static_cast<std::size_t>(plan.said.kept), plan.samples));
  }
  lines.push_back(fmt::format("{} captures of {} runs {}; readings and judgements stay.", captures, runs.size(),
                              options.is_dry ? "would go" : "are gone"));
  tell(options, json::object{{"dry_run", options.is_dry}, {"captures", captures}, {"runs", std::move(runs)}}, lines);
  return all_met;
}

int archive(const KeepOptions& options) {
  const auto said = said_of_age(options);
  const auto store = open_store_to_read(options.store);
  const auto runs = record::runs_to_put_away(*store, before_of(options));
  std::vector<std::string> lines;
  json::array names;
  for (const auto& run : runs) {
    names.push_back(json::string(run.id));
    if (options.is_dry) lines.push_back(run_line(run));
  }
  const bool is_done = !options.is_dry && !runs.empty();
  if (is_done) record::put_away(options.file, *store, runs, said);
  lines.push_back(runs.empty()
                      ? "No run is that old; nothing was written."
                      : fmt::format("{} runs {} {}.", runs.size(), is_done ? "are in" : "would go into", options.file));
  tell(options,
       json::object{{"dry_run", options.is_dry},
                    {"file", is_done ? json::value(json::string(options.file)) : json::value(nullptr)},
                    {"runs", std::move(names)}},
       lines);
  return all_met;
}

std::filesystem::path state_of(const KeepOptions& options) {
  return options.state.empty() ? usual_state_folder() : std::filesystem::path(options.state);
}

int restore(const KeepOptions& options) {
  if (std::filesystem::is_directory(options.file)) {
    const auto names = restore_state(options.file, state_of(options));
    tell(options, json::object{{"state", state_of(options).string()}, {"files", texts_json(names)}},
         std::vector{fmt::format("{} is as it was; start the daemon with it.", state_of(options).string())});
    return all_met;
  }
  const auto said = said_now(options, false);
  const auto store = open_store_to_write(options.store);
  const auto count = record::restore(options.file, *store, said);
  tell(options, json::object{{"runs", count.runs}, {"entries", count.entries}},
       std::vector{fmt::format("{} runs are back in {}.", count.runs, store->name())});
  return all_met;
}

int backup(const KeepOptions& options) {
  const auto state = state_of(options);
  const auto names = back_up_state(state, options.file, utc_now());
  const bool has_records = std::find(names.begin(), names.end(), "records.db") != names.end();
  std::vector lines{fmt::format("{}: {}", options.file, fmt::join(names, ", "))};
  if (!has_records)
    lines.push_back(
        "There are no records in this folder: those in a PostgreSQL database are copied with its own pg_dump.");
  tell(options, json::object{{"backup", options.file}, {"files", texts_json(names)}, {"has_records", has_records}},
       lines);
  return all_met;
}

void add_state_option(CLI::App* command, KeepOptions& options) {
  command->add_option("--state", options.state, "folder of the daemon; usual: $XDG_STATE_HOME/eyelevel");
}

void add_age_options(CLI::App* command, KeepOptions& options) {
  command->add_option("--after-days", options.after_days, "runs that began longer ago than that")
      ->required()
      ->check(CLI::Range(1LL, 36500LL));
  command->add_flag("--dry-run", options.is_dry, "only say what would go");
  add_writing_options(command, options);
}

}  // namespace

void add_keeping(CLI::App* records, Chosen& chosen) {
  auto thinning = std::make_shared<KeepOptions>();
  auto* thin =
      records->add_subcommand("thin-out", "Takes samples of old runs away: of each series three captures stay");
  thin->footer("Example:\n  eyelevel records thin-out --after-days 90 --dry-run");
  add_age_options(thin, *thinning);
  thin->callback([thinning, &chosen] { chosen = [thinning] { return thin_out(*thinning); }; });

  auto archiving = std::make_shared<KeepOptions>();
  auto* put = records->add_subcommand("archive", "Moves old runs, whole, into an archive");
  put->footer("Example:\n  eyelevel records archive old.eyelevel --after-days 730 --by anna");
  put->add_option("file", archiving->file, "the archive, a new file")->required();
  add_age_options(put, *archiving);
  put->callback([archiving, &chosen] { chosen = [archiving] { return archive(*archiving); }; });

  auto restoring = std::make_shared<KeepOptions>();
  auto* back =
      records->add_subcommand("restore", "Runs from an archive into the store, or a backup into a state folder");
  back->footer(
      "Example:\n  eyelevel records restore old.eyelevel --by anna\n  eyelevel records restore backup-folder --state "
      "new-state");
  back->add_option("from", restoring->file, "a file of `archive`, or a folder of `backup`")->required();
  add_state_option(back, *restoring);
  add_writing_options(back, *restoring);
  back->callback([restoring, &chosen] { chosen = [restoring] { return restore(*restoring); }; });

  auto copying = std::make_shared<KeepOptions>();
  auto* copy = records->add_subcommand("backup", "Copies the state folder of a daemon while that runs");
  copy->footer("Example:\n  eyelevel records backup backup-folder --state /var/lib/eyelevel");
  copy->add_option("to", copying->file, "a folder, absent or empty")->required();
  add_state_option(copy, *copying);
  copy->add_flag("--json", copying->as_json, "print JSON");
  copy->callback([copying, &chosen] { chosen = [copying] { return backup(*copying); }; });
}

}  // namespace eyelevel::program
