// SPDX-License-Identifier: Apache-2.0
// What sysfs tells of the nodes of the system's driver, from a mocked one.
#include "instruments/transport/usbtmc/system_nodes.hpp"

#include <catch2/catch.hpp>

#include "instruments/transport/usbtmc/server.hpp"
#include "instruments/transport/usbtmc/simulated_pipe.hpp"
#include "instruments/transport/usbtmc/usb.hpp"
#include "tests/instruments/transport/usbtmc/mocked_system_node.hpp"
#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;

TEST_CASE("system usb: the nodes of the system's driver are found with numbers, serial and place", "[usbtmc]") {
  test::Wall wall;
  const auto server = std::make_shared<UsbtmcServer>(
      wall.loop.get_executor(), std::make_shared<test::UsbInstrument>(*wall.timeline), ServerOptions{});
  const test::MockedSystemNode node(wall.loop.get_executor(), simulated_pipe(server));
  const auto nodes = system_nodes();
  REQUIRE(nodes.size() == 1);
  CHECK(nodes[0].path == "/dev/usbtmc0");
  CHECK(nodes[0].vendor == 0x1234);
  CHECK(nodes[0].product == 0x5678);
  CHECK(nodes[0].serial == "EY-0001");
  CHECK(nodes[0].place == "1-1");
  CHECK(nodes[0].usable);
  CHECK(system_node_of(parse_resource_name("USB::0x1234::0x5678::ey-0001")) == "/dev/usbtmc0");
  CHECK(system_node_of(parse_resource_name("USB::0x1234::0x5678::@1-1")) == "/dev/usbtmc0");
  CHECK(system_node_of(parse_resource_name("USB::0x1234::0x5678::other")).empty());
  CHECK(system_node_of(parse_resource_name("USB::0x1234::0x5678::EY-0001::1")).empty());
  const auto ends = endpoints_of_node("/dev/usbtmc0");
  CHECK(ends.bulk_out == 0x01);
  CHECK(ends.bulk_in == 0x81);
  CHECK(ends.bulk_in_packet_bytes == 512);
  CHECK(ends.interrupt_in == 0x82);
  CHECK(ends.is_usb488);
  CHECK(endpoints_of_node("/dev/usbtmc1").bulk_in == 0);
}

TEST_CASE(
    "system usb: the list names the node where libusb may not and the user may, and leaves the others as they are",
    "[usbtmc]") {
  const auto seen = [](std::string place, int interface, std::string trouble) {
    FoundInterface found;
    found.place = std::move(place);
    found.interface = interface;
    found.trouble = found.advice = std::move(trouble);
    found.resource = parse_resource_name("USB::1::2::EY");
    return found;
  };
  std::vector<FoundInterface> found{seen("1-1", 0, "no"), seen("1-1", 1, "no"), seen("1-2", 0, ""),
                                    seen("1-3", 0, "no")};
  std::vector<SystemNode> nodes(3);
  nodes[0].path = "/dev/usbtmc0";
  nodes[0].place = "1-1";
  nodes[0].usable = true;
  nodes[1].path = "/dev/usbtmc1";
  nodes[1].place = "1-2";
  nodes[1].usable = true;
  nodes[2].path = "/dev/usbtmc2";
  nodes[2].place = "1-3";
  use_system_nodes(found, nodes);
  CHECK(found[0].resource.canonical() == "USB/dev/usbtmc0::INSTR");
  CHECK(found[0].trouble.empty());
  CHECK(found[1].trouble == "no");
  CHECK(found[2].resource.canonical() == "USB0::0x0001::0x0002::EY::0::INSTR");
  CHECK(found[3].trouble == "no");
  CHECK(found[3].resource.canonical() == "USB0::0x0001::0x0002::EY::0::INSTR");
}
