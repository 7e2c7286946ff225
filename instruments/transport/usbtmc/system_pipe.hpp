// SPDX-License-Identifier: Apache-2.0
// A pipe (pipe.hpp) through the driver that Linux itself has for USBTMC, /dev/usbtmcN, for instruments that libusb may
// not take from it. Only what the driver calls generic reads and writes is used: whole bulk transfers with the headers
// of ours, so that protocol and recovery are the same as with libusb (linux/usb/tmc.h; what the calls do, after the
// driver's source, drivers/usb/class/usbtmc.c, version 3 of its interface). Unproven on hardware.
// The driver reads in pieces of 4096 bytes, and ends what is being written when a read ends: so one waits for the other
// here. It has no port reset. Its calls run on threads beside the loop and wait there in short slices.
#pragma once

#include <boost/asio/thread_pool.hpp>

#include <memory>

#include "core/base/task.hpp"
#include "instruments/transport/resource_name.hpp"
#include "instruments/transport/usbtmc/pipe.hpp"

namespace eyelevel::transport::usbtmc {

// A name with a path, "USB/dev/usbtmc0::INSTR". Throws TransportError(no_connection): not there, no permission, or a
// system whose driver is too old.
task<std::shared_ptr<Pipe>> open_system_node(std::shared_ptr<boost::asio::thread_pool> threads, ResourceName name);

}  // namespace eyelevel::transport::usbtmc
