// SPDX-License-Identifier: Apache-2.0
// What sysfs tells of the interfaces that the system's own driver for USBTMC holds (/dev/usbtmcN). Nothing is opened.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "instruments/transport/resource_name.hpp"
#include "instruments/transport/usbtmc/pipe.hpp"

namespace eyelevel::transport::usbtmc {

// An interface that the system's driver holds, from sysfs.
struct SystemNode {
  std::string path;  // "/dev/usbtmc0"
  std::uint16_t vendor = 0;
  std::uint16_t product = 0;
  std::string serial;
  int interface = 0;
  std::string place;    // bus and ports, as libusb's side has it: "1-4.2"
  bool usable = false;  // this user may open it
};
// In the order of their paths.
std::vector<SystemNode> system_nodes();
// The path of the node that this user may open and that has the numbers and the serial (or "@place") of the name.
std::string system_node_of(const ResourceName& name);
// Of the node with this path; bulk endpoints of 0 when sysfs does not tell. The driver answers for the interrupt
// endpoint.
Endpoints endpoints_of_node(const std::string& path);

}  // namespace eyelevel::transport::usbtmc
