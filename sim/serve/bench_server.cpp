// SPDX-License-Identifier: Apache-2.0
#include "sim/serve/bench_server.hpp"

#include <utility>

namespace eyelevel::sim {

BenchServer::BenchServer(boost::asio::any_io_executor executor, std::string address)
    : executor_(std::move(executor)), address_(std::move(address)) {}

const ServedInstrument& BenchServer::serve(std::string name, std::string kind,
                                           std::shared_ptr<transport::Device> device, std::uint16_t port) {
  transport::socket::Listen listen;
  listen.address = address_;
  listen.port = port;
  servers_.push_back(std::make_unique<transport::socket::SocketServer>(executor_, std::move(device), listen));
  instruments_.push_back({std::move(name), std::move(kind), {servers_.back()->resource_name()}});
  return instruments_.back();
}

void BenchServer::stop() noexcept {
  for (const auto& server : servers_) server->stop();
}

}  // namespace eyelevel::sim
