// SPDX-License-Identifier: Apache-2.0
#include "sim/serve/bench_server.hpp"

#include <fmt/format.h>

#include <set>
#include <utility>

#include "core/base/error.hpp"
#include "instruments/transport/hislip/server.hpp"
#include "instruments/transport/socket/server.hpp"
#include "instruments/transport/vxi11/server.hpp"

namespace eyelevel::sim {
namespace {

using transport::Carrier;

constexpr std::uint16_t hislip_usual_port = 4880;  // IVI-6.1, 2.2
constexpr std::uint16_t portmapper_port = 111;     // RFC 1833

// Of one instrument, on each LAN transport that has such names.
struct LanNames {
  std::string inst, hislip;
};

// The bench file's own names, and the next free number for whatever it leaves open.
std::vector<LanNames> lan_names(const std::vector<ToServe>& instruments) {
  std::set<std::string> taken;
  for (const ToServe& one : instruments) {
    if (one.resource.carrier == Carrier::vxi11 || one.resource.carrier == Carrier::hislip)
      taken.insert(one.resource.device);
  }
  std::vector<LanNames> names;
  std::size_t number = 0;
  const auto next = [&](const char* prefix, std::size_t from) {
    std::string name = fmt::format("{}{}", prefix, from);
    while (taken.contains(name)) name = fmt::format("{}{}", prefix, ++from);
    taken.insert(name);
    return name;
  };
  for (const ToServe& one : instruments) {
    LanNames lan;
    lan.inst = one.resource.carrier == Carrier::vxi11 ? one.resource.device : next("inst", number);
    lan.hislip = one.resource.carrier == Carrier::hislip ? one.resource.device : next("hislip", number);
    names.push_back(std::move(lan));
    ++number;
  }
  return names;
}

bool is_wanted(const std::vector<ToServe>& instruments, Carrier carrier) {
  for (const ToServe& one : instruments)
    if (one.resource.carrier == carrier) return true;
  return false;
}

}  // namespace

struct BenchServer::Servers {
  std::vector<ServedInstrument> instruments;
  std::vector<std::string> obstacles;
  std::vector<std::unique_ptr<transport::socket::SocketServer>> sockets;
  std::unique_ptr<transport::hislip::HislipServer> hislip;
  std::unique_ptr<transport::vxi11::Vxi11Server> vxi11;
};

BenchServer::BenchServer(const boost::asio::any_io_executor& executor, base::Timeline& timeline,
                         std::vector<ToServe> instruments, const Serving& serving)
    : servers_(std::make_unique<Servers>()) {
  const auto names = lan_names(instruments);
  transport::hislip::Devices by_sub_address;
  transport::vxi11::Devices by_device_name;
  transport::hislip::Listen hislip{.address = serving.address};
  hislip.security = serving.hislip_security;
  hislip.port = serving.any_port ? std::uint16_t{0} : hislip_usual_port;
  for (std::size_t i = 0; i < instruments.size(); ++i) {
    const ToServe& one = instruments[i];
    const bool has_port = one.resource.carrier == Carrier::socket && !serving.any_port;
    transport::socket::Listen listen;
    listen.address = serving.address;
    listen.port = has_port ? one.resource.port : std::uint16_t{0};
    servers_->sockets.push_back(std::make_unique<transport::socket::SocketServer>(executor, one.device, listen));
    servers_->instruments.push_back({one.name, one.kind, {servers_->sockets.back()->resource_name()}});
    by_sub_address[names[i].hislip] = one.device;
    by_device_name[names[i].inst] = one.device;
    if (one.resource.carrier == Carrier::hislip && !serving.any_port) hislip.port = one.resource.port;
  }
  // Without a transport that nobody asked for, the bench is still of use.
  try {
    servers_->hislip =
        std::make_unique<transport::hislip::HislipServer>(executor, timeline, std::move(by_sub_address), hislip);
  } catch (const base::Error& error) {
    if (is_wanted(instruments, Carrier::hislip)) throw;
    servers_->obstacles.push_back(fmt::format("HiSLIP is not served: {}", error.record().message));
  }
  transport::vxi11::Listen vxi11{.address = serving.address};
  vxi11.portmapper_port = portmapper_port;
  try {
    if (serving.any_port)
      throw base::Error(base::ErrorCode::no_connection,
                        "its clients look for it at port 111 only, and free ports were asked for");
    servers_->vxi11 =
        std::make_unique<transport::vxi11::Vxi11Server>(executor, timeline, std::move(by_device_name), vxi11);
  } catch (const base::Error& error) {
    if (is_wanted(instruments, Carrier::vxi11)) throw;
    servers_->obstacles.push_back(fmt::format("VXI-11 is not served: {}", error.record().message));
  }
  for (std::size_t i = 0; i < instruments.size(); ++i) {
    auto& resources = servers_->instruments[i].resources;
    if (servers_->hislip) resources.push_back(servers_->hislip->resource_name(names[i].hislip));
    if (servers_->vxi11) resources.push_back(servers_->vxi11->resource_name(names[i].inst));
  }
}

BenchServer::~BenchServer() = default;

const std::vector<ServedInstrument>& BenchServer::instruments() const { return servers_->instruments; }

const std::vector<std::string>& BenchServer::obstacles() const { return servers_->obstacles; }

std::uint16_t BenchServer::hislip_port() const {
  return servers_->hislip ? servers_->hislip->port() : std::uint16_t{0};
}

bool BenchServer::has_vxi11() const { return servers_->vxi11 != nullptr; }

void BenchServer::stop() noexcept {
  for (const auto& server : servers_->sockets) server->stop();
  if (servers_->hislip) servers_->hislip->stop();
  if (servers_->vxi11) servers_->vxi11->stop();
}

}  // namespace eyelevel::sim
