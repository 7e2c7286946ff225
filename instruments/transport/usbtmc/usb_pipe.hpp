// SPDX-License-Identifier: Apache-2.0
// The border of pipe.hpp over an interface that libusb has opened and claimed. Who opens it is usb.hpp.
#pragma once

#include <condition_variable>
#include <functional>
#include <memory>
#include <mutex>

#include "instruments/transport/usbtmc/pipe.hpp"
#include "instruments/transport/usbtmc/usb.hpp"

struct libusb_device_handle;

namespace eyelevel::transport::usbtmc {

// An open device with its claimed interface; released, given back to the system's driver, and closed with this object.
class UsbHandle {
 public:
  UsbHandle(libusb_device_handle* handle, int interface, bool give_back)
      : handle_(handle), interface_(interface), give_back_(give_back) {}
  UsbHandle(const UsbHandle&) = delete;
  UsbHandle& operator=(const UsbHandle&) = delete;
  ~UsbHandle() { release(); }

  libusb_device_handle* get() const { return handle_; }
  // On the thread for calls that block: waits for the transfers under way, which must have been cancelled.
  void shut_down();
  void begin_transfer();
  void end_transfer();

 private:
  void release();

  libusb_device_handle* handle_;
  int interface_;
  bool give_back_;
  std::mutex mutex_;
  std::condition_variable changed_;
  int under_way_ = 0;
};

std::shared_ptr<Pipe> usb_pipe(std::shared_ptr<Usb> usb, std::shared_ptr<UsbHandle> handle, const Endpoints& endpoints);

}  // namespace eyelevel::transport::usbtmc
