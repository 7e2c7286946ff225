// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/mdns/responder.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <boost/asio/buffer.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <list>
#include <stdexcept>
#include <utility>

#include "instruments/find/detail/together.hpp"
#include "instruments/find/dns/message.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::find::mdns {
namespace asio = boost::asio;
using asio::ip::udp;
namespace {

constexpr unsigned probes = 3;  // RFC 6762, 8.1, and 250 ms between them
constexpr auto probe_pause = std::chrono::milliseconds(250);
constexpr unsigned most_names_tried = 15;  // RFC 6762, 8.1: more conflicts than that and something is wrong
constexpr std::size_t frame_bytes = 1440;  // what fits into one Ethernet frame, IPv6 and UDP headers aside

struct Place {
  Interface interface;
  udp::socket socket;
  udp::endpoint group;
  Addresses here;
};

// What is of use besides is left out when it would not fit into one frame.
std::string bytes_of(dns::Message message) {
  try {
    return dns::encode(message, frame_bytes);
  } catch (const std::length_error&) {
    message.additionals.clear();
    return dns::encode(message);
  }
}

}  // namespace

class Responder::Work {
 public:
  Work(base::Timeline& timeline, std::vector<Announcement> announcements)
      : timeline_(timeline), zone_(std::move(announcements)) {}

  void open(const asio::any_io_executor& executor, const std::vector<Interface>& interfaces, std::uint16_t port) {
    for (const auto& interface : interfaces) {
      Addresses here;
      for (const auto& one : interface.v4) here.emplace_back(one.address);
      for (const auto& one : interface.v6) here.emplace_back(one);
      own_.insert(own_.end(), here.begin(), here.end());
      if (!interface.up || !zone_.announcement(here)) continue;
      for (const auto family : {Family::v4, Family::v6}) {
        if (!has(interface, family)) continue;
        try {
          auto socket = open_member(executor, interface, family, port);
          socket.non_blocking(true);
          places_.push_back({interface, std::move(socket), group(interface, family, port), here});
        } catch (const transport::TransportError& error) {
          obstacles_.push_back(fmt::format("{}: {}", error.record().where, error.record().message));
        }
      }
    }
    if (places_.empty())
      transport::fail(base::ErrorCode::no_connection, "multicast DNS",
                      obstacles_.empty() ? "no interface has an address at which the instruments listen"
                                         : fmt::format("nothing can be announced: {}", fmt::join(obstacles_, "; ")),
                      "look at the interfaces of this computer: is one up, with an address?");
  }

  task<> run() {
    std::vector<task<>> works;
    for (auto& place : places_) works.push_back(listen(place));
    works.push_back(speak());
    const Farewell farewell{*this};
    co_await detail::together(std::move(works));
  }

  const Zone& zone() const { return zone_; }
  bool announced() const { return announced_; }
  const std::vector<std::string>& obstacles() const { return obstacles_; }

 private:
  struct Farewell {
    Work& work;
    ~Farewell() { work.leave(); }
  };

  void leave() noexcept {
    if (!announced_) return;
    announced_ = false;
    try {
      to_all(&Zone::goodbye);
    } catch (const std::exception&) {
      announced_ = false;  // without a goodbye, others forget it by its time to live
    }
  }

  void to_all(std::optional<dns::Message> (Zone::*what)(const Addresses&) const) {
    for (auto& place : places_)
      if (auto message = (zone_.*what)(place.here)) send(place, *message, place.group);
  }

  // A datagram that is lost is asked for again.
  static void send(Place& place, const dns::Message& message, const udp::endpoint& to) {
    boost::system::error_code lost;
    place.socket.send_to(asio::buffer(bytes_of(message)), to, 0, lost);
  }

  task<> speak() {
    for (unsigned names = 0; names < most_names_tried; ++names) {
      taken_ = false;
      for (unsigned i = 0; i < probes && !taken_; ++i) {
        to_all(&Zone::probe);
        co_await timeline_.sleep(probe_pause);
      }
      if (taken_) continue;
      announced_ = true;
      to_all(&Zone::announcement);
      co_await timeline_.sleep(std::chrono::seconds(1));  // RFC 6762, 8.3
      to_all(&Zone::announcement);
      co_return;
    }
    obstacles_.push_back(fmt::format("{} names were tried, all are taken; nothing is announced", most_names_tried));
  }

  task<> listen(Place& place) {
    std::string bytes(dns::most_message_bytes + 1, '\0');
    for (;;) {
      udp::endpoint from;
      boost::system::error_code error;
      const std::size_t size = co_await place.socket.async_receive_from(
          asio::buffer(bytes), from, asio::redirect_error(asio::use_awaitable, error));
      if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
      // RFC 6762, 11: nothing is owed to who is not on this link; an answer to a forged address would hit another.
      if (!error && (place.interface.reaches(from.address()) || holds_own(from.address())))
        take(place, std::string_view(bytes).substr(0, size), from);
    }
  }

  bool holds_own(const asio::ip::address& address) const {
    return std::find(own_.begin(), own_.end(), address) != own_.end();
  }

  void take(Place& place, std::string_view bytes, const udp::endpoint& from) {
    const auto parsed = dns::parse(bytes);
    if (!parsed.message || parsed.message->opcode != 0 || parsed.message->response_code != 0) return;
    const auto& message = *parsed.message;
    if (message.response) {
      if (!announced_ && zone_.yield_to(message, own_)) taken_ = true;
      return;
    }
    if (!announced_) return;
    const bool legacy = from.port() != place.group.port();
    const auto answer = zone_.answer(message, place.here, legacy);
    if (!answer) return;
    // At the shared port of this computer, an answer to the asker alone may reach another program (RFC 6762, 15.1).
    const bool alone = !holds_own(from.address()) && std::all_of(message.questions.begin(), message.questions.end(),
                                                                 [](const auto& question) { return question.unicast; });
    send(place, *answer, legacy || alone ? from : place.group);
  }

  base::Timeline& timeline_;
  Zone zone_;
  std::list<Place> places_;
  Addresses own_;
  bool taken_ = false;
  bool announced_ = false;
  std::vector<std::string> obstacles_;
};

Responder::Responder(const asio::any_io_executor& executor, base::Timeline& timeline,
                     std::vector<Announcement> announcements, std::vector<Interface> interfaces, std::uint16_t port)
    : work_(std::make_unique<Work>(timeline, std::move(announcements))) {
  work_->open(executor, interfaces, port);
}

Responder::~Responder() = default;

task<> Responder::run() { return work_->run(); }
bool Responder::announced() const { return work_->announced(); }
const std::vector<Announcement>& Responder::announcements() const { return work_->zone().announcements(); }
const std::vector<std::string>& Responder::obstacles() const { return work_->obstacles(); }

}  // namespace eyelevel::find::mdns
