// SPDX-License-Identifier: Apache-2.0
// This computer's USB, by libusb 1.0: which USBTMC interfaces are plugged in, and a pipe (pipe.hpp) to one of them.
// libusb runs on two threads of its own, one for finished transfers and one for calls that block (open, claim,
// CLEAR_FEATURE, reset); whatever is awaited here ends on the caller's loop. An interface that a driver of the system
// holds is taken from it while it is open, and given back. Nothing is reset on opening and no configuration is set:
// some instruments vanish by it.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/task.hpp"
#include "instruments/transport/resource_name.hpp"
#include "instruments/transport/usbtmc/pipe.hpp"
#include "instruments/transport/usbtmc/system_nodes.hpp"

namespace eyelevel::transport::usbtmc {

struct UsbThreads;

class Usb {
 public:
  // Throws TransportError(no_connection) when this computer has no USB that could be used.
  Usb();
  Usb(const Usb&) = delete;
  Usb& operator=(const Usb&) = delete;
  // Waits for what is under way on its threads. Every pipe must be gone.
  ~Usb();

  UsbThreads& threads() { return *threads_; }

 private:
  std::unique_ptr<UsbThreads> threads_;
};

// One interface of class 0xFE, subclass 0x03 (USBTMC Table 43).
struct FoundInterface {
  std::uint16_t vendor = 0;
  std::uint16_t product = 0;
  int interface = 0;
  bool is_usb488 = false;
  std::string maker;  // the three strings as the instrument has them; empty when they cannot be read
  std::string model;
  std::string serial;
  std::string place;      // bus and ports: "1-4.2"
  ResourceName resource;  // opens this one; by "@place" instead of the serial where that is no good, or by a node
  std::string trouble;    // why it cannot be used as it is; empty when it can
  std::string advice;     // what to do about it
};

// Those that libusb may not use and the system's own driver gives to this user get the name of its node and no trouble.
void use_system_nodes(std::vector<FoundInterface>& found, const std::vector<SystemNode>& nodes);

// In the order of their places. Reads descriptors and their strings only; nothing is claimed.
task<std::vector<FoundInterface>> list_interfaces(std::shared_ptr<Usb> usb);

// By vendor, product and serial (without regard to case; "@1-4.2" means the place), and the interface; where 0 is no
// USBTMC interface the lowest one is taken. Throws TransportError(no_connection) with the reason: not plugged in, no
// permission (with the rule to install), or used by another program.
task<std::shared_ptr<Pipe>> open_interface(std::shared_ptr<Usb> usb, ResourceName name);

// The line for /etc/udev/rules.d that lets the users of this computer use such an instrument.
std::string udev_rule(std::uint16_t vendor, std::uint16_t product);

// Whether a serial number can stand in a resource name (USBTMC Table 45).
bool is_usable_serial(std::string_view serial);

}  // namespace eyelevel::transport::usbtmc
