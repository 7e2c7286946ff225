// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/broadcast/search.hpp"

#include <fmt/format.h>

#include <boost/asio/buffer.hpp>
#include <boost/asio/ip/udp.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/socket_base.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <list>
#include <utility>

#include "core/base/deadline.hpp"
#include "instruments/find/detail/together.hpp"
#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/codec_rpc.hpp"
#include "instruments/transport/vxi11/codec_xdr.hpp"

namespace eyelevel::find::broadcast {
namespace asio = boost::asio;
namespace ip = asio::ip;
namespace vxi11 = transport::vxi11;
using ip::udp;
namespace {

struct Asker {
  std::string interface;
  udp::socket socket;
  std::vector<udp::endpoint> to;
  std::uint32_t xid;
};

// The port of the core channel that a portmapper names; 0: not for us, not understood, or it has none.
std::uint32_t core_port(std::string_view reply, std::uint32_t xid) {
  const auto head = vxi11::read_reply_head(reply);
  if (head.need > 0 || !head.fault.empty() || !head.refused.empty() || head.xid != xid) return 0;
  vxi11::XdrReader results(reply.substr(head.head_bytes));
  const auto port = results.u32("port");
  return results.good() && port <= 0xFFFFU ? port : 0;
}

class Search {
 public:
  explicit Search(base::Timeline& timeline) : timeline_(timeline) {}

  void open(const asio::any_io_executor& executor, const Interface& interface, std::uint16_t port) {
    for (const auto& own : interface.v4) {
      std::vector<udp::endpoint> to;
      if (interface.loopback) {
        to.emplace_back(own.address, port);
      } else if (own.broadcast) {
        to.emplace_back(*own.broadcast, port);
        to.emplace_back(ip::address_v4::broadcast(), port);  // sent where the socket's own address is
      }
      if (to.empty()) continue;  // point to point: nobody else is there
      boost::system::error_code error;
      udp::socket socket(executor);
      socket.open(udp::v4(), error);
      if (!error) socket.set_option(asio::socket_base::broadcast(true), error);
      if (!error) socket.bind({own.address, 0}, error);
      if (!error) socket.non_blocking(true, error);
      if (error)
        obstacle(interface.name, "cannot ask by broadcast: " + error.message());
      else
        askers_.push_back({interface.name, std::move(socket), std::move(to), first_xid + interface.index});
    }
  }

  task<> run() {
    std::vector<task<>> works;
    for (auto& asker : askers_) works.push_back(listen(asker));
    works.push_back(ask());
    co_await detail::together(std::move(works));
  }

  Searched result() { return std::move(result_); }

 private:
  static constexpr std::uint32_t first_xid = 0x45590000;

  void obstacle(const std::string& interface, const std::string& why) {
    auto text = fmt::format("interface {}: {}", interface, why);
    auto& all = result_.obstacles;
    if (std::find(all.begin(), all.end(), text) == all.end()) all.push_back(std::move(text));
  }

  // At 0, 0.4 and 1 s.
  task<> ask() {
    for (const auto pause : {400, 600, 0}) {
      for (auto& asker : askers_) {
        const auto call = vxi11::get_port_call(asker.xid, vxi11::core_program, vxi11::program_version);
        for (const auto& to : asker.to) {
          boost::system::error_code error;
          asker.socket.send_to(asio::buffer(call), to, 0, error);
          // One of the two ways out is enough; a refusal is this computer's own, which has no portmapper.
          if (error && error != asio::error::would_block && error != asio::error::connection_refused &&
              to == asker.to.front())
            obstacle(asker.interface, "cannot ask by broadcast: " + error.message());
        }
      }
      co_await timeline_.sleep(std::chrono::milliseconds(pause));
    }
  }

  task<> listen(Asker& asker) {
    std::string bytes(vxi11::most_small_bytes, '\0');
    for (;;) {
      udp::endpoint from;
      boost::system::error_code error;
      const std::size_t size = co_await asker.socket.async_receive_from(
          asio::buffer(bytes), from, asio::redirect_error(asio::use_awaitable, error));
      if (error == asio::error::operation_aborted) throw boost::system::system_error(error);
      if (error || core_port(std::string_view(bytes).substr(0, size), asker.xid) == 0) continue;
      const auto host = from.address().to_v4();
      auto& hosts = result_.hosts;
      if (hosts.size() < most_hosts && std::find(hosts.begin(), hosts.end(), host) == hosts.end())
        hosts.push_back(host);
    }
  }

  base::Timeline& timeline_;
  std::list<Asker> askers_;
  Searched result_;
};

}  // namespace

task<Searched> search(base::Timeline& timeline, std::vector<Interface> interfaces, base::Duration within,
                      std::uint16_t port) {
  const auto executor = co_await asio::this_coro::executor;
  Search search(timeline);
  for (const auto& interface : interfaces)
    if (interface.up) search.open(executor, interface, port);
  co_await base::finished_within(timeline, within, search.run());
  co_return search.result();
}

}  // namespace eyelevel::find::broadcast
