// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/simulated_pipe.hpp"

#include <algorithm>
#include <utility>

namespace eyelevel::transport::usbtmc {
namespace {

class SimulatedPipe final : public Pipe {
 public:
  explicit SimulatedPipe(std::shared_ptr<UsbtmcServer> server) : server_(std::move(server)) {}

  const Endpoints& endpoints() const override { return server_->endpoints(); }

  task<Moved> bulk_out(std::string_view transfer) override {
    for (;;) {
      if (is_over()) co_return gone();
      switch (server_->bulk_out(transfer)) {
        case Handshake::ack: co_return Moved{.bytes = transfer.size(), .trouble = {}, .what = {}};
        case Handshake::stall: co_return stalled();
        case Handshake::nak: co_await change();
      }
    }
  }

  task<Moved> bulk_in(std::span<char> into) override {
    std::size_t have = 0;
    for (;;) {
      if (is_over()) co_return gone();
      const auto taken = server_->bulk_in(into.subspan(have));
      have += taken.bytes;
      if (taken.handshake == Handshake::stall) co_return stalled();
      if (taken.handshake == Handshake::ack) co_return Moved{.bytes = have, .trouble = {}, .what = {}};
      co_await change();
    }
  }

  task<Moved> interrupt_in(std::span<char> into) override {
    for (;;) {
      if (is_over()) co_return gone();
      if (const auto packet = server_->interrupt_in()) co_return put(*packet, into);
      co_await change();
    }
  }

  task<Moved> control(const Setup& setup, std::span<char> into) override {
    for (;;) {
      if (is_over()) co_return gone();
      const auto reply = server_->control(setup);
      if (reply.handshake == Handshake::ack) co_return put(reply.bytes, into);
      if (reply.handshake == Handshake::stall) co_return stalled();
      co_await change();
    }
  }

  task<Moved> clear_halt(std::uint8_t endpoint) override {
    if (is_over()) co_return gone();
    co_return with(server_->clear_halt(endpoint));
  }

  task<Moved> reset() override {
    if (is_over()) co_return gone();
    co_return with(server_->reset());
  }

  void close() noexcept override {
    closed_ = true;
    server_->changed().strike();
  }

 private:
  // What was asked may itself have pulled the cable; then the stroke is over already.
  task<> change() {
    if (!is_over()) co_await server_->changed().wait();
  }
  bool is_over() const { return closed_ || server_->is_gone(); }
  static Moved gone() { return {.bytes = 0, .trouble = Trouble::gone, .what = "the simulated instrument is gone"}; }
  static Moved stalled() { return {.bytes = 0, .trouble = Trouble::stall, .what = "halted"}; }
  static Moved with(Trouble trouble) { return {.bytes = 0, .trouble = trouble, .what = "simulated trouble"}; }
  static Moved put(std::string_view bytes, std::span<char> into) {
    if (bytes.size() > into.size())
      return {.bytes = 0, .trouble = Trouble::overflow, .what = "more than was asked for"};
    std::copy(bytes.begin(), bytes.end(), into.begin());
    return {.bytes = bytes.size(), .trouble = {}, .what = {}};
  }

  std::shared_ptr<UsbtmcServer> server_;
  bool closed_ = false;
};

}  // namespace

std::shared_ptr<Pipe> simulated_pipe(std::shared_ptr<UsbtmcServer> server) {
  return std::make_shared<SimulatedPipe>(std::move(server));
}

}  // namespace eyelevel::transport::usbtmc
