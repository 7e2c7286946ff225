// SPDX-License-Identifier: Apache-2.0
// `eyelevel sim BENCH`: serves a simulated bench on real ports until it is stopped. A player stands on it that already
// plays the disc that was asked for.
#include <fmt/format.h>
#include <unistd.h>

#include <array>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/address.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/json.hpp>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <memory>

#include "core/base/certificate.hpp"
#include "core/base/error.hpp"
#include "core/base/gong.hpp"
#include "core/base/timeline.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/files.hpp"
#include "core/program/output.hpp"
#include "instruments/find/interfaces.hpp"
#include "instruments/find/mdns/responder.hpp"
#include "instruments/transport/resource_name.hpp"
#include "sim/serve/bench_server.hpp"
#include "sim/unit/simulated_bench.hpp"

namespace eyelevel::program {
namespace {

namespace asio = boost::asio;
namespace json = boost::json;

struct Options {
  std::string bench;
  std::string model;
  std::string disc = "pressed";
  int track = 2;
  std::uint64_t seed = 1;
  std::string address = "127.0.0.1";
  bool any_port = false;
  bool announce = false;
  bool obey = false;
  bool encrypt = false;
  std::vector<std::string> misbehave;
  bool list_misbehaviours = false;
  bool as_json = false;
};

int list_misbehaviours(const Options& options) {
  json::array list;
  for (const auto kind : sim::all_misbehaviours()) {
    if (options.as_json)
      list.push_back(
          json::object{{"name", sim::name_of(kind)}, {"write", sim::usage_of(kind)}, {"about", sim::about(kind)}});
    else
      fmt::print("{:<31}{}\n", sim::usage_of(kind), sim::about(kind));
  }
  if (options.as_json) fmt::print("{}\n", json::serialize(list));
  return all_met;
}

// "late=3", of every instrument, or "scope:late=3", of one.
void misbehave(sim::UnitMake& make, const std::string& text) {
  const auto colon = text.substr(0, text.find('=')).find(':');
  const std::string role = colon == std::string::npos ? "" : text.substr(0, colon);
  const auto fault = sim::parse_misbehaviour(colon == std::string::npos ? text : text.substr(colon + 1));
  bool any = false;
  std::string known;
  for (auto& instrument : make.instruments) {
    known += (known.empty() ? "" : ", ") + instrument.role;
    if (!role.empty() && instrument.role != role) continue;
    instrument.faults.push_back(fault);
    any = true;
  }
  if (!any)
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("misbehaviour \"{}\": the bench has no instrument \"{}\"", text, role),
                      "one of: " + known);
}

// A certificate for as long as it serves.
transport::hislip::Security new_security(const Options& options) {
  constexpr int days = 365;
  const auto now = std::chrono::time_point_cast<base::UtcTime::duration>(std::chrono::system_clock::now());
  auto made = base::make_certificate({options.address}, now, days);
  return {std::move(made.certificate_pem), std::move(made.key_pem), true, {}};
}

json::object to_json(const sim::BenchServer& server, const std::string& fingerprint) {
  json::array list;
  for (const auto& one : server.instruments()) {
    json::array resources;
    for (const auto& name : one.resources) resources.emplace_back(name);
    list.push_back(json::object{{"name", one.name}, {"kind", one.kind}, {"resources", std::move(resources)}});
  }
  json::object all{{"instruments", std::move(list)}};
  if (!fingerprint.empty()) all["certificate"] = fingerprint;
  return all;
}

void play(sim::SimulatedBench& bench, const Options& options, double now_s) {
  auto& player = bench.player();
  if (options.disc == "none") return;
  const auto kind = options.disc == "pressed"      ? sim::DiscKind::pressed
                    : options.disc == "recordable" ? sim::DiscKind::recordable
                                                   : sim::DiscKind::rewritable;
  player.insert(bench.disc(kind), now_s);
  player.start_track(options.track, now_s);
}

task<> until_stopped(asio::io_context& loop) {
  asio::signal_set signals(loop, SIGINT, SIGTERM);
  co_await signals.async_wait(asio::use_awaitable);
}

constexpr std::size_t longest_line = 4096;

// What is typed is asked of the simulated person, as a prompt is; what they say to it is printed. Ends with the input
// or with the loop.
task<> obey(sim::SimulatedOperator& person, const asio::any_io_executor& executor) {
  asio::posix::stream_descriptor input(executor, ::dup(STDIN_FILENO));
  std::string typed;
  for (;;) {
    boost::system::error_code error;
    const auto length = co_await asio::async_read_until(input, asio::dynamic_buffer(typed, longest_line), '\n',
                                                        asio::redirect_error(asio::use_awaitable, error));
    if (error) co_return;
    const std::string line = typed.substr(0, length - 1);
    typed.erase(0, length);
    const bench::Answer answer = co_await person.ask({.text = line});
    put(stdout, answer.text + "\n");
    if (std::fflush(stdout) != 0) co_return;
  }
}

// "Eyelevel,Simulated oscilloscope,0,1.0" as the TXT record of LXI has it.
std::vector<std::pair<std::string, std::string>> txt_of(std::string_view identity) {
  constexpr std::array<const char*, 4> keys = {"Manufacturer", "Model", "SerialNumber", "FirmwareVersion"};
  std::vector<std::pair<std::string, std::string>> txt;
  for (const char* key : keys) {
    const auto comma = identity.find(',');
    const auto value = identity.substr(0, comma);
    if (value != "0") txt.emplace_back(key, value);  // 0 is not known (IEEE 488.2, 10.14.3)
    identity.remove_prefix(comma == std::string_view::npos ? identity.size() : comma + 1);
  }
  return txt;
}

std::vector<find::mdns::Announcement> announcements(const sim::BenchServer& server, const sim::SimulatedBench& bench,
                                                    const Options& options) {
  std::vector<find::mdns::Announcement> all;
  for (const auto& one : server.instruments()) {
    find::mdns::Announcement say;
    say.instance = fmt::format("Simulated {} {}", one.kind, one.name);
    say.host = "eyelevel-" + one.name;
    say.txt = txt_of(bench.identities().at(one.name));
    for (const auto& resource : one.resources) {
      const auto name = transport::parse_resource_name(resource);
      if (name.carrier == transport::Carrier::socket) say.services.push_back({"_scpi-raw._tcp", name.port});
      if (name.carrier == transport::Carrier::hislip && name.device == "hislip0")
        say.services.push_back({"_hislip._tcp", name.port});
      if (name.carrier == transport::Carrier::vxi11 && name.device == "inst0")
        say.services.push_back({"_vxi-11._tcp", std::uint16_t{111}});
    }
    const auto address = asio::ip::make_address(options.address);
    if (!address.is_unspecified()) say.at.push_back(address);
    all.push_back(std::move(say));
  }
  return all;
}

// Announces until it is stopped; then says goodbye, so that nobody looks for what is gone.
task<> until_stopped_announcing(asio::io_context& loop, find::mdns::Responder& responder) {
  asio::cancellation_signal stop;
  base::Gong ended;
  bool running = true;
  asio::co_spawn(loop, responder.run(), asio::bind_cancellation_slot(stop.slot(), [&](const std::exception_ptr&) {
                   running = false;  // by the cancellation
                   ended.strike();
                 }));
  co_await until_stopped(loop);
  stop.emit(asio::cancellation_type::terminal);
  while (running) co_await ended.wait();
}

// Runs `work` until it ends, and obeys meanwhile.
task<> obeying(task<> work, sim::SimulatedOperator& person) {
  const auto executor = co_await asio::this_coro::executor;
  asio::cancellation_signal stop;
  base::Gong ended;
  bool running = true;
  asio::co_spawn(executor, obey(person, executor),
                 asio::bind_cancellation_slot(stop.slot(), [&](const std::exception_ptr&) {
                   running = false;  // by the cancellation, or the input ended
                   ended.strike();
                 }));
  co_await std::move(work);
  stop.emit(asio::cancellation_type::terminal);
  while (running) co_await ended.wait();
}

int simulate(const Options& options) {
  if (options.list_misbehaviours) return list_misbehaviours(options);
  if (options.bench.empty())
    throw base::Error(base::ErrorCode::bad_input, "sim: no bench file was named", "eyelevel sim examples/bench.yaml");
  const auto bench_file = load_bench(options.bench);
  const auto model = options.model.empty() ? embedded_model() : load_model(options.model);

  asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  auto make = sim::draw_unit(options.seed, sim::traits_of(model), bench_file);
  for (const auto& one : options.misbehave) misbehave(make, one);
  sim::SimulatedBench bench(*timeline, make);
  play(bench, options, base::to_seconds(timeline->now()));

  std::vector<sim::ToServe> instruments;
  instruments.reserve(bench_file.instruments.size());
  for (const auto& entry : bench_file.instruments) {
    instruments.push_back(
        {entry.role, entry.kind, bench.devices().at(entry.role), transport::parse_resource_name(entry.resource)});
  }
  sim::Serving serving{options.address, options.any_port};
  if (options.encrypt) serving.hislip_security = new_security(options);
  const auto fingerprint = options.encrypt ? base::fingerprint_of(serving.hislip_security->certificate_pem) : "";
  sim::BenchServer server(loop.get_executor(), *timeline, std::move(instruments), serving);
  std::unique_ptr<find::mdns::Responder> responder;
  if (options.announce)
    responder = std::make_unique<find::mdns::Responder>(loop.get_executor(), *timeline,
                                                        announcements(server, bench, options), find::interfaces());
  if (options.as_json) {
    fmt::print("{}\n", json::serialize(to_json(server, fingerprint)));
  } else {
    for (const auto& one : server.instruments())
      fmt::print("{} ({}): {}\n", one.name, one.kind, fmt::join(one.resources, ", "));
    if (options.encrypt)
      fmt::print("HiSLIP is encrypted, its certificate has the SHA-256 fingerprint {}\n", fingerprint);
    fmt::print("A simulated {} plays track {} of a {} disc; stop with Ctrl-C.\n", model.model, options.track,
               options.disc);
  }
  if (std::fflush(stdout) != 0) return not_finished;  // nobody could know where it serves
  for (const auto& obstacle : server.obstacles())
    if (!options.as_json) put(stderr, obstacle + "\n");
  task<> work = responder ? until_stopped_announcing(loop, *responder) : until_stopped(loop);
  timeline->run(options.obey ? obeying(std::move(work), bench.person()) : std::move(work));
  server.stop();
  return all_met;
}

}  // namespace

void add_sim(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "sim", "Serve a simulated bench on real TCP ports until stopped",
                             "eyelevel sim examples/bench.yaml");
  command->add_option("bench", options->bench, "bench file; its resources say the ports");
  command->add_option("--disc", options->disc, "what the player plays: pressed, recordable, rewritable or none")
      ->check(CLI::IsMember({"pressed", "recordable", "rewritable", "none"}));
  command->add_option("--track", options->track, "which track (usual: 2)")->check(CLI::Range(1, 99));
  command->add_option("--seed", options->seed, "which unit and which instruments (usual: 1)")->check(not_negative);
  command->add_option("--model", options->model, "model sheet of the unit; usual: the invented LF-2");
  command->add_option("--listen", options->address,
                      "address to serve at (usual: 127.0.0.1; 0.0.0.0 for the whole net)");
  command->add_flag("--any-port", options->any_port,
                    "take free ports instead of those of the bench file and the standards; without VXI-11");
  command->add_flag("--encrypt", options->encrypt,
                    "HiSLIP encrypted only, with a new certificate whose fingerprint is printed");
  command->add_flag("--announce", options->announce, "announce the instruments by multicast DNS");
  command->add_flag(
      "--obey", options->obey,
      "do what is typed, as 'Hook the probe to the calibrator', and print what the simulated person says");
  command
      ->add_option("--misbehave", options->misbehave,
                   "what the instruments do wrong: NAME[=VALUE][@QUERY], or ROLE:NAME... for one of them; several with "
                   "commas. QUERY is the first that it strikes (usual: 1)")
      ->delimiter(',')
      ->allow_extra_args(false);
  command->add_flag("--list-misbehaviours", options->list_misbehaviours, "list what instruments can do wrong");
  command->add_flag("--json", options->as_json, "print one line of JSON once every port listens");
  command->callback([options, &chosen] { chosen = [options] { return simulate(*options); }; });
}

}  // namespace eyelevel::program
