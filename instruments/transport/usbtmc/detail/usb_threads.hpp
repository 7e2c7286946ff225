// SPDX-License-Identifier: Apache-2.0
// The threads of libusb: one for its events, one for its calls that block
// (instruments/transport/detail/other_thread.hpp).
#pragma once

#include <libusb.h>

#include <boost/asio/thread_pool.hpp>

#include <atomic>
#include <thread>

#include "instruments/transport/detail/other_thread.hpp"

namespace eyelevel::transport::usbtmc {

struct UsbThreads {
  UsbThreads();
  UsbThreads(const UsbThreads&) = delete;
  UsbThreads& operator=(const UsbThreads&) = delete;
  ~UsbThreads();

  libusb_context* context = nullptr;
  boost::asio::thread_pool worker{1};
  std::atomic<bool> stopping = false;
  std::thread events;
};

}  // namespace eyelevel::transport::usbtmc
