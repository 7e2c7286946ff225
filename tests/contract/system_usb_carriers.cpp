// SPDX-License-Identifier: Apache-2.0
// The one carrier of the program that holds /dev/usbtmc0 to the contract of transports: the system's driver is mocked.
#include <boost/asio/thread_pool.hpp>

#include "instruments/transport/usbtmc/system_pipe.hpp"
#include "tests/contract/transport_bench.hpp"
#include "tests/instruments/transport/usbtmc/mocked_system_node.hpp"

namespace eyelevel::test {
namespace {

// The instrument at the far end of the node; when it is gone, the same one is there again for whoever opens anew.
struct FarEnd {
  boost::asio::any_io_executor executor;
  std::shared_ptr<Device> device;
  std::shared_ptr<transport::usbtmc::UsbtmcServer> server = make();
  MockedSystemNode node{executor, transport::usbtmc::simulated_pipe(server)};

  std::shared_ptr<transport::usbtmc::UsbtmcServer> make() const {
    return std::make_shared<transport::usbtmc::UsbtmcServer>(executor, device, transport::usbtmc::ServerOptions{});
  }
  void be_there() {
    if (!server->is_gone()) return;
    server = make();
    node.plug_in(transport::usbtmc::simulated_pipe(server));
  }
};

task<> over_system_usb(base::Timeline& timeline, std::shared_ptr<Device> device, const Body& body) {
  using namespace transport::usbtmc;
  const auto executor = co_await boost::asio::this_coro::executor;
  FarEnd far_end{executor, std::move(device)};
  const auto threads = std::make_shared<boost::asio::thread_pool>(8);
  const auto name = transport::parse_resource_name("USB/dev/usbtmc0");
  const OpenPipe open = [&far_end, threads, name] {
    far_end.be_there();
    return open_system_node(threads, name);
  };
  Session session(timeline, co_await connect(timeline, name.canonical(), open, {}));
  co_await body({timeline, session});
}

}  // namespace

std::vector<CarrierUnderTest> carriers() {
  auto carrier = real("usbtmc by the system's driver", over_system_usb, true);
  carrier.shared = false;
  return {carrier};
}

}  // namespace eyelevel::test
