// SPDX-License-Identifier: Apache-2.0
// Resource names (VISA, VPP-4.3, 4.3.1) parsed and printed canonically: keyword in capitals, board number and class
// written. MEMORY is ours: MEMORY::scope is an instrument of the simulated bench in this process. Every standard kind
// is parsed; whether it is served is for transports.hpp to say. Also ours: the path of a serial port in the place of
// its number, ASRL/dev/ttyUSB0::INSTR, because adapters have no number that stays; USB/dev/usbtmc0::INSTR for
// an instrument that the system's own driver holds; and PLUGIN::name::address, which the
// transport `name` of a plugin reaches.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace eyelevel::transport {

enum class Carrier { memory, socket, vxi11, hislip, usbtmc, serial, gpib, plugin };

std::string_view name_of(Carrier carrier);

struct ResourceName {
  Carrier carrier = Carrier::socket;
  int board = 0;
  std::string host;  // memory: the instrument's name; serial, USB: a path in /dev, if given; plugin: the transport
  std::uint16_t port = 0;    // socket and HiSLIP
  std::string device;        // VXI-11 and HiSLIP: LAN device name in lower case, without the port; plugin: address
  std::uint16_t vendor = 0;  // USBTMC
  std::uint16_t product = 0;
  std::string serial;  // USBTMC: as read; compared without case
  int interface = 0;   // USBTMC
  int primary = 0;     // GPIB address
  int secondary = -1;  // GPIB; -1: none

  std::string canonical() const;
  // Of a serial port: as given, or /dev/ttyS0 for board 1 and so on.
  std::string path() const;
};

// Throws base::Error(bad_input) that shows the name, the byte and the right form.
ResourceName parse_resource_name(std::string_view text);

}  // namespace eyelevel::transport
