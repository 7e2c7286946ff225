// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/mdns/browser.hpp"

#include <fmt/format.h>

#include <boost/asio/buffer.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <list>
#include <utility>

#include "core/base/deadline.hpp"
#include "instruments/find/detail/together.hpp"
#include "instruments/find/dns/message.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::find::mdns {
namespace asio = boost::asio;
using asio::ip::udp;
namespace {

constexpr std::size_t most_bad = 16;
constexpr std::size_t questions_each = 12;  // of a message: far below the 1500 bytes of a frame, mostly

struct Ear {
  unsigned interface;
  udp::socket socket;
  udp::endpoint group;
  bool shared;  // the port of multicast DNS
};

class Browser {
 public:
  Browser(base::Timeline& timeline, std::uint16_t port) : timeline_(timeline), port_(port) {}

  void open(const asio::any_io_executor& executor, const Interface& interface) {
    for (const auto family : {Family::v4, Family::v6}) {
      if (!has(interface, family)) continue;
      for (const bool shared : {false, true}) {
        try {
          auto socket =
              shared ? open_member(executor, interface, family, port_) : open_asker(executor, interface, family);
          socket.non_blocking(true);
          ears_.push_back({interface.index, std::move(socket), group(interface, family, port_), shared});
        } catch (const transport::TransportError& error) {
          obstacle(interface.name, family, error.record().message);
        }
      }
      names_[interface.index] = interface.name;
    }
  }

  task<> run() {
    std::vector<task<>> works;
    for (auto& ear : ears_) works.push_back(listen(ear));
    works.push_back(ask());
    co_await detail::together(std::move(works));
  }

  Browsed result() {
    Browsed out;
    out.services = catalogue_.services();
    out.unresolved = catalogue_.unresolved();
    out.overflowed = catalogue_.overflowed();
    out.bad = std::move(bad_);
    out.obstacles = std::move(obstacles_);
    return out;
  }

 private:
  void obstacle(const std::string& name, Family family, const std::string& why) {
    auto text =
        fmt::format("interface {}: multicast DNS over {}: {}", name, family == Family::v4 ? "IPv4" : "IPv6", why);
    if (std::find(obstacles_.begin(), obstacles_.end(), text) == obstacles_.end())
      obstacles_.push_back(std::move(text));
  }

  // Never ends by itself. An error belongs to one datagram (a port that nobody had, say): the next may be good.
  task<> listen(Ear& ear) {
    std::string bytes(dns::most_message_bytes + 1, '\0');
    for (;;) {
      udp::endpoint from;
      boost::system::error_code error;
      const std::size_t size = co_await ear.socket.async_receive_from(asio::buffer(bytes), from,
                                                                      asio::redirect_error(asio::use_awaitable, error));
      if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
      if (!error) take(std::string_view(bytes).substr(0, size), from, ear.interface);
    }
  }

  void take(std::string_view bytes, const udp::endpoint& from, unsigned interface) {
    const auto parsed = dns::parse(bytes);
    if (parsed.message) {
      catalogue_.take(*parsed.message, from.address(), interface);
      return;
    }
    const auto sender = from.address().to_string();
    const bool known = std::any_of(bad_.begin(), bad_.end(), [&](const BadMessage& one) { return one.from == sender; });
    if (!known && bad_.size() < most_bad) bad_.push_back({sender, parsed.fault});
  }

  // All types at 0, 0.3 and 1 s, later every second; what is still open every 0.1 s while it changes, else every 0.5 s.
  task<> ask() {
    std::size_t open_before = 0;
    for (unsigned tick = 0;; ++tick) {
      if (tick == 0 || tick == 3 || tick % 10 == 0) send(catalogue_.first_questions(), tick == 3);
      const auto open = catalogue_.open_questions();
      if (!open.empty() && (open.size() != open_before || tick % 5 == 0)) send(open, tick % 2 == 1);
      open_before = open.size();
      co_await timeline_.sleep(std::chrono::milliseconds(100));
    }
  }

  // The QU bit only from the port of its own: at the shared one, an answer to this computer alone may reach another
  // program (RFC 6762, 15.1). Without it, too, as there are responders of one-shot queries that do not know it.
  void send(const std::vector<dns::Question>& questions, bool unicast) {
    for (auto& ear : ears_) {
      for (std::size_t first = 0; first < questions.size(); first += questions_each) {
        dns::Message query;
        for (std::size_t i = first; i < std::min(first + questions_each, questions.size()); ++i) {
          query.questions.push_back(questions[i]);
          query.questions.back().unicast = unicast && !ear.shared;
        }
        const auto bytes = dns::encode(query);
        boost::system::error_code error;
        ear.socket.send_to(asio::buffer(bytes), ear.group, 0, error);
        if (error && error != asio::error::would_block)
          obstacle(names_[ear.interface], ear.group.address().is_v4() ? Family::v4 : Family::v6,
                   "cannot send: " + error.message());
      }
    }
  }

  base::Timeline& timeline_;
  std::uint16_t port_;
  std::list<Ear> ears_;
  std::map<unsigned, std::string> names_;
  Catalogue catalogue_;
  std::vector<BadMessage> bad_;
  std::vector<std::string> obstacles_;
};

}  // namespace

task<Browsed> browse(base::Timeline& timeline, std::vector<Interface> interfaces, base::Duration within,
                     std::uint16_t port) {
  const auto executor = co_await asio::this_coro::executor;
  Browser browser(timeline, port);
  for (const auto& interface : interfaces)
    if (interface.up) browser.open(executor, interface);
  co_await base::finished_within(timeline, within, browser.run());
  co_return browser.result();
}

}  // namespace eyelevel::find::mdns
