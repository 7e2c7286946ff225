// SPDX-License-Identifier: Apache-2.0
// `eyelevel import FILE`: takes in an archive that `eyelevel export --archive` has written.
#include <fmt/format.h>

#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/store_place.hpp"
#include "core/record/archive/archive.hpp"

namespace eyelevel::program {

namespace {

struct ImportOptions : BookOptions {
  std::string file;
};

int import_archive(const ImportOptions& options) {
  const auto store = open_store_to_write(options.store);
  const auto count = record::read_archive(options.file, *store);
  tell(options, boost::json::object{{"runs", count.runs}, {"entries", count.entries}},
       std::vector{fmt::format("{} runs and {} entries of the books are in {} now.", count.runs, count.entries,
                               store->name())});
  return all_met;
}

}  // namespace

void add_import(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<ImportOptions>();
  auto* command = subcommand(app, "import", "Takes in an archive; what is there already is not taken twice",
                             "eyelevel import LF2-00417.eyelevel");
  command->add_option("file", options->file, "written by `eyelevel export --archive`")->required();
  add_store_options(command, *options);
  command->callback([options, &chosen] { chosen = [options] { return import_archive(*options); }; });
}

}  // namespace eyelevel::program
