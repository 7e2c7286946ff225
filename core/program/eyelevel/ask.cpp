// SPDX-License-Identifier: Apache-2.0
// `eyelevel ask RESOURCE QUERY`: one query, the answer on stdout; binary blocks go to a file with -o. Without a query,
// one after another as they are typed, over one connection.
#include <fmt/format.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>

#include <algorithm>
#include <cstdio>
#include <memory>
#include <utility>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/line_reader.hpp"
#include "core/program/links.hpp"
#include "core/program/output.hpp"
#include "core/program/plugins.hpp"
#include "core/report/export.hpp"
#include "instruments/scpi/standard_headers.hpp"
#include "instruments/transport/traced.hpp"
#include "instruments/transport/transports.hpp"

namespace eyelevel::program {
namespace {

constexpr std::size_t most_shown_bytes = std::size_t{1} << 20U;  // on a terminal

struct Options {
  std::string resource;
  std::string query;
  std::string output;
  Reached reached;
  std::vector<std::string> plugins;
  double within_s = 2;
  bool trace = false;
};

void print_traced(const transport::Traced& one) {
  constexpr std::size_t most = 4096;
  std::string text = fmt::format("{:12.6f} s  {}", base::to_seconds(one.at), one.what);
  if (!one.bytes.empty()) text += fmt::format("  {} bytes  {}", one.bytes.size(), base::escaped(one.bytes, most));
  put(stderr, text + "\n");
}

task<std::unique_ptr<transport::Session>> open(const transport::Transports& transports, base::Timeline& timeline,
                                               const Options& options) {
  auto link = co_await transports.open(options.resource, timeline, base::from_seconds(options.within_s));
  if (options.trace) link = transport::traced(std::move(link), timeline, print_traced);
  co_return std::make_unique<transport::Session>(timeline, std::move(link));
}

// On a terminal, how much of an answer has come that takes a while.
class Progress {
 public:
  explicit Progress(transport::Session& session) : session_(session) {
    if (::isatty(STDERR_FILENO) != 1) return;
    session_.on_progress([this](std::size_t bytes, std::size_t of) { show(bytes, of); });
  }
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;
  ~Progress() {
    session_.on_progress({});
    if (!shown_.empty()) put(stderr, "\n");
  }

 private:
  static constexpr std::size_t bytes_least = 100'000;

  void show(std::size_t bytes, std::size_t of) {
    if (std::max(bytes, of) < bytes_least) return;
    auto text = of == 0 ? fmt::format("\r{:.1f} MB", static_cast<double>(bytes) / 1e6)
                        : fmt::format("\r{} % of {:.1f} MB", 100 * bytes / of, static_cast<double>(of) / 1e6);
    if (text == shown_) return;
    put(stderr, text);
    shown_ = std::move(text);
  }

  transport::Session& session_;
  std::string shown_;
};

// Empty for a message without a question mark.
task<std::string> answer_to(transport::Session& session, const std::string& message, base::Duration within) {
  const Progress progress(session);
  if (message.find('?') != std::string::npos) co_return co_await session.query(message, within);
  co_await session.write(message, within);
  co_return std::string();
}

void show(const std::string& answer, const std::string& file) {
  if (!file.empty()) {
    report::write_file(file, answer);
    put(stderr, fmt::format("{} bytes to {}\n", answer.size(), file));
  } else if (!answer.empty() && answer.front() == '#') {
    put(stdout,
        fmt::format("a block of {} bytes; name a file for it with -o, or with > FILE in a session\n", answer.size()));
  } else if (answer.size() > most_shown_bytes) {
    put(stdout,
        fmt::format("an answer of {} bytes; name a file for it with -o, or with > FILE in a session\n", answer.size()));
  } else if (!answer.empty()) {
    put(stdout, base::legible(answer) + "\n");
  }
}

std::string trimmed(std::string_view text) {
  const auto begin = text.find_first_not_of(" \t\r");
  if (begin == std::string_view::npos) return {};
  return std::string(text.substr(begin, text.find_last_not_of(" \t\r") - begin + 1));
}

// "FETC? > volts.bin" is a query and a file.
struct Line {
  std::string message;
  std::string file;
};

Line taken_apart(const std::string& text) {
  const auto arrow = text.rfind(" > ");
  if (arrow == std::string::npos) return {trimmed(text), {}};
  return {trimmed(text.substr(0, arrow)), trimmed(text.substr(arrow + 3))};
}

// One message after another until the input ends. What goes wrong with one is told and does not end the session; the
// status says whether anything did.
int converse(base::Timeline& timeline, transport::Session& session, const Options& options) {
  LineReader reader([](std::string_view typed) { return scpi::header_completions(typed); });
  if (reader.is_terminal())
    put(stdout,
        fmt::format("{}\nType commands and queries; Tab completes standard headers, > FILE keeps an answer, Ctrl-D "
                    "ends.\n",
                    session.resource_name()));
  int status = all_met;
  while (const auto text = reader.next("> ")) {
    const Line line = taken_apart(*text);
    if (line.message.empty()) continue;
    try {
      std::string answer;
      auto exchange = [&]() -> task<> {
        answer = co_await answer_to(session, line.message, base::from_seconds(options.within_s));
      };
      timeline.run(exchange());
      show(answer, line.file);
    } catch (const base::Error& error) {
      put(stderr, std::string(error.what()) + "\n");
      status = not_finished;
    }
  }
  if (reader.is_terminal()) put(stdout, "\n");
  return status;
}

int ask(const Options& options) {
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  const auto equipment = options.resource.starts_with("PLUGIN") ? equip_and_tell(options.plugins) : Equipment{};
  require_encryptable(options.resource, options.reached);
  auto transports = every_link(options.reached);
  add_links(transports, equipment.plugins);
  std::unique_ptr<transport::Session> session;
  std::string answer;
  auto main = [&]() -> task<> {
    session = co_await open(transports, *timeline, options);
    if (!options.query.empty())
      answer = co_await answer_to(*session, options.query, base::from_seconds(options.within_s));
  };
  timeline->run(main());
  if (options.query.empty()) return converse(*timeline, *session, options);
  show(answer, options.output);
  return all_met;
}

}  // namespace

void add_ask(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "ask", "One query to one instrument, and its answer; or a session without a query",
                             "eyelevel ask TCPIP0::192.0.2.10::5025::SOCKET '*IDN?'");
  command->add_option("resource", options->resource, "resource name")->required();
  command->add_option("query", options->query, "what to send; without it, lines are read until their end");
  command->add_option("--within", options->within_s, "seconds to wait (usual: 2)")->check(CLI::PositiveNumber);
  command->add_option("-o,--output", options->output, "file for the answer's bytes");
  add_reached_options(*command, options->reached);
  add_plugins_option(*command, options->plugins);
  command->add_flag("--trace", options->trace, "print every message with its time, on standard error");
  command->callback([options, &chosen] { chosen = [options] { return ask(*options); }; });
}

}  // namespace eyelevel::program
