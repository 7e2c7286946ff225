// SPDX-License-Identifier: Apache-2.0
#include "core/program/interrupt.hpp"

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <csignal>
#include <thread>

namespace eyelevel::program {

struct Interrupt::Listening {
  boost::asio::io_context loop{1};
  boost::asio::signal_set signals{loop, SIGINT, SIGTERM};
  std::thread thread;
};

Interrupt::Interrupt() : listening_(std::make_unique<Listening>()) {
  listening_->signals.async_wait([this](const boost::system::error_code& error, int) {
    if (error) return;
    listening_->signals.clear();  // from here on a signal does what it does without us
    source_.request_stop();
  });
  listening_->thread = std::thread([loop = &listening_->loop] { loop->run(); });
}

Interrupt::~Interrupt() {
  listening_->loop.stop();
  listening_->thread.join();
}

}  // namespace eyelevel::program
