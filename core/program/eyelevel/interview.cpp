// SPDX-License-Identifier: Apache-2.0
// `eyelevel interview RESOURCE`: learns how an unknown instrument speaks, tells what works and writes its phrasebook.
#include "instruments/phrasebook/interview.hpp"

#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <cstdio>
#include <filesystem>
#include <memory>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/links.hpp"
#include "core/program/output.hpp"
#include "core/report/export.hpp"

namespace eyelevel::program {
namespace {

struct Options {
  std::string resource;
  std::string output;
  Reached reached;
  double within_s = 1;
};

void tell(const phrasebook::Interview& found) {
  std::string text = fmt::format("{}\n  calls itself {}\n", found.resource, base::legible(found.identity));
  text += found.version.empty() ? "  does not say which SCPI it speaks\n"
                                : fmt::format("  speaks SCPI {}\n", base::legible(found.version));
  if (!found.capability.empty()) text += fmt::format("  can do {}\n", base::legible(found.capability));
  if (!found.has_error_queue) text += "  has no error queue that answers: only the answers themselves were looked at\n";
  for (const std::string& error : found.found_in_queue) text += fmt::format("  had an error waiting: {}\n", error);
  text += "\nWays of speaking, best first:\n";
  for (const phrasebook::Tried& way : found.tried)
    text += fmt::format("  {:<36} {:>2} of {} settings answered as it expects\n", way.phrasebook, way.fitting(),
                        way.asked());
  const auto lines = found.learnt();
  bool any = false;
  for (const phrasebook::Asked& line : lines) {
    if (line.query.empty() || line.fits()) continue;
    text += fmt::format("{}  {} ({}): {}\n", any ? "" : "\nNot understood:\n", line.key, line.query, line.trouble);
    any = true;
  }
  put(stdout, text);
}

int learn(const Options& options) {
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  require_encryptable(options.resource, options.reached);
  const auto transports = every_link(options.reached);
  phrasebook::Interview found;
  auto main = [&]() -> task<> {
    const auto within = base::from_seconds(options.within_s);
    const auto session = co_await transports.open_session(options.resource, *timeline, 5 * within);
    found = co_await phrasebook::interview(*session, phrasebook::detail::standard_texts(), within);
  };
  timeline->run(main());
  tell(found);
  const bool fits = !found.tried.empty() && found.tried.front().fitting() > 0;
  if (!fits) {
    put(stdout, "\nNo known way of speaking fits; no phrasebook was written.\n");
    return not_met;
  }
  if (!options.output.empty()) {
    report::write_file(options.output,
                       phrasebook::written(found, std::filesystem::path(options.output).stem().string()));
    put(stdout, fmt::format("\nThe phrasebook is in {}. Read it beside the handbook, then name it in the bench file.\n",
                            options.output));
  }
  return found.tried.front().fitting() == found.tried.front().asked() ? all_met : not_met;
}

}  // namespace

void add_interview(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "interview", "Learn how an unknown instrument speaks, by harmless queries only",
                             "eyelevel interview TCPIP0::192.0.2.10::5025::SOCKET -o my-scope.yaml");
  command->add_option("resource", options->resource, "resource name")->required();
  command->add_option("-o,--output", options->output, "file for the phrasebook");
  command->add_option("--within", options->within_s, "seconds to wait for each answer (usual: 1)")
      ->check(CLI::PositiveNumber);
  add_reached_options(*command, options->reached);
  command->callback([options, &chosen] { chosen = [options] { return learn(*options); }; });
}

}  // namespace eyelevel::program
