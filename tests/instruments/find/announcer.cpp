// SPDX-License-Identifier: Apache-2.0
// Not a test but what tests look for: serves instruments on raw sockets and announces them by multicast DNS until it is
// ended by SIGTERM. Called as: announcer NAME=ANSWER... , where ANSWER is what *IDN? gets, "\e" in it an escape
// character, and an empty one silence. Prints a line with the list of ports once everything is announced.
#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <csignal>
#include <cstdio>
#include <memory>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "instruments/find/detail/together.hpp"
#include "instruments/find/mdns/responder.hpp"
#include "instruments/transport/socket/server.hpp"

using namespace eyelevel;

namespace {

class Named final : public transport::Device {
 public:
  explicit Named(std::string identity) : identity_(std::move(identity)) {}
  task<> execute(std::string_view message, transport::Reply& reply) override {
    if (message == "*IDN?") reply.bytes = identity_;
    co_return;
  }
  void clear() override {}

 private:
  std::string identity_;
};

std::string unescaped(std::string text) {
  for (std::size_t at = 0; (at = text.find("\\e", at)) != std::string::npos;) text.replace(at, 2, "\x1B");
  return text;
}

struct Ended {};

task<> until_ended(boost::asio::io_context& loop) {
  boost::asio::signal_set signals(loop, SIGTERM, SIGINT);
  co_await signals.async_wait(boost::asio::use_awaitable);
  throw Ended();
}

task<> say_when(base::Timeline& timeline, const find::mdns::Responder& responder) {
  while (!responder.announced()) co_await timeline.sleep(std::chrono::milliseconds(20));
  std::string ports;
  for (const auto& one : responder.announcements())
    ports += fmt::format("{}{}", ports.empty() ? "" : ", ", one.services.front().port);
  fmt::print("[{}]\n", ports);
  std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  std::vector<std::unique_ptr<transport::socket::SocketServer>> servers;
  std::vector<find::mdns::Announcement> announced;
  for (const auto& argument : std::vector<std::string>(argv + 1, argv + argc)) {
    const auto sign = argument.find('=');
    transport::socket::Listen everywhere;
    everywhere.address = "0.0.0.0";
    servers.push_back(std::make_unique<transport::socket::SocketServer>(
        loop.get_executor(), std::make_shared<Named>(unescaped(argument.substr(sign + 1))), everywhere));
    find::mdns::Announcement one;
    one.instance = unescaped(argument.substr(0, sign));
    one.host = "announcer-" + std::to_string(announced.size());
    one.services = {{"_scpi-raw._tcp", servers.back()->port()}, {"_lxi._tcp", 0}};
    one.txt = {{"Manufacturer", "Lanternfield"}, {"Model", "Announcer"}};
    announced.push_back(std::move(one));
  }
  find::mdns::Responder responder(loop.get_executor(), *timeline, announced, find::interfaces());
  auto run = [&]() -> task<> {
    std::vector<task<>> works;
    works.push_back(responder.run());
    works.push_back(say_when(*timeline, responder));
    works.push_back(until_ended(loop));
    try {
      co_await find::detail::together(std::move(works));
    } catch (const Ended&) {
      for (const auto& server : servers) server->stop();
    }
  };
  timeline->run(run());
  return 0;
}
