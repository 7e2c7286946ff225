// SPDX-License-Identifier: Apache-2.0
// `eyelevel ask RESOURCE QUERY`: one query, the answer on stdout. Binary blocks go to a file with -o.
#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <cstdio>
#include <memory>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/output.hpp"
#include "core/report/export.hpp"
#include "instruments/transport/transports.hpp"

namespace eyelevel::program {
namespace {

struct Options {
  std::string resource;
  std::string query;
  std::string output;
  double within_s = 2;
};

task<std::string> answer_to(const transport::Transports& transports, base::Timeline& timeline, const Options& options) {
  const auto within = base::from_seconds(options.within_s);
  const auto session = co_await transports.open_session(options.resource, timeline, within);
  if (options.query.find('?') != std::string::npos) co_return co_await session->query(options.query, within);
  co_await session->write(options.query, within);
  co_return std::string();
}

int ask(const Options& options) {
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  transport::Transports transports;
  transport::add_socket(transports);
  std::string answer;
  auto main = [&]() -> task<> { answer = co_await answer_to(transports, *timeline, options); };
  timeline->run(main());
  if (!options.output.empty()) {
    report::write_file(options.output, answer);
    put(stderr, fmt::format("{} bytes to {}\n", answer.size(), options.output));
  } else if (!answer.empty() && answer.front() == '#') {
    fmt::print("a block of {} bytes; name a file for it with -o\n", answer.size());
  } else if (!answer.empty()) {
    fmt::print("{}\n", base::escaped(answer, answer.size()));
  }
  return all_met;
}

}  // namespace

void add_ask(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "ask", "One query to one instrument, and its answer",
                             "eyelevel ask TCPIP0::192.0.2.10::5025::SOCKET '*IDN?'");
  command->add_option("resource", options->resource, "resource name")->required();
  command->add_option("query", options->query, "what to send")->required();
  command->add_option("--within", options->within_s, "seconds to wait (usual: 2)")->check(CLI::PositiveNumber);
  command->add_option("-o,--output", options->output, "file for the answer's bytes");
  command->callback([options, &chosen] { chosen = [options] { return ask(*options); }; });
}

}  // namespace eyelevel::program
