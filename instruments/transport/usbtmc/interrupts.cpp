// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/interrupts.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/this_coro.hpp>

#include <algorithm>
#include <array>
#include <utility>
#include <vector>

#include "core/base/gong.hpp"

namespace eyelevel::transport::usbtmc {
namespace asio = boost::asio;
namespace {

constexpr int most_troubles = 8;  // in a row; then the endpoint is given up
constexpr std::uint8_t rqs = 0x40;
constexpr int no_answer_yet = -1;

}  // namespace

struct Interrupts::State {
  bool ended = true;
  bool requested = false;
  std::uint8_t rqs_of_request = 0;
  std::array<int, 128> answers{};
  base::Gong changed;
  asio::cancellation_signal stop;

  void sort(const InterruptPacket& packet) {
    if (packet.kind == InterruptPacket::Kind::service_request) {
      requested = true;
      rqs_of_request = packet.status_byte & rqs;
    } else if (packet.kind == InterruptPacket::Kind::status_answer) {
      answers.at(packet.tag) = packet.status_byte;
    }
    changed.strike();
  }

  static task<> watch(std::shared_ptr<State> state, std::shared_ptr<Pipe> pipe) {
    const auto endpoint = pipe->endpoints().interrupt_in;
    std::vector<char> buffer(std::max<std::size_t>(pipe->endpoints().interrupt_packet_bytes, 2));
    int troubles = 0;
    while (troubles < most_troubles) {
      const auto moved = co_await pipe->interrupt_in(buffer);
      if (moved.trouble == Trouble::gone) co_return;
      if (moved.trouble == Trouble::none) {
        troubles = 0;
        state->sort(read_interrupt({buffer.data(), moved.bytes}));
      } else {
        ++troubles;
        if (moved.trouble == Trouble::stall) co_await pipe->clear_halt(endpoint);
      }
    }
  }
};

Interrupts::Interrupts() : state_(std::make_shared<State>()) {}
Interrupts::~Interrupts() { end(); }

task<> Interrupts::watch(std::shared_ptr<Pipe> pipe) {
  end();
  if (pipe->endpoints().interrupt_in == 0) co_return;
  const auto executor = co_await asio::this_coro::executor;
  const auto state = state_;
  state->ended = false;
  asio::co_spawn(executor, State::watch(state, std::move(pipe)),
                 asio::bind_cancellation_slot(state->stop.slot(), [state](const std::exception_ptr&) {
                   // By cancellation or because the instrument is gone: the bulk endpoints tell it to the user.
                   state->ended = true;
                   state->changed.strike();
                 }));
}

void Interrupts::end() noexcept {
  const auto state = std::exchange(state_, std::make_shared<State>());
  state->stop.emit(asio::cancellation_type::terminal);
}

task<bool> Interrupts::wait_for_service() {
  const auto state = state_;
  while (!state->requested) {
    if (state->ended) co_return false;
    co_await state->changed.wait();
  }
  state->requested = false;
  co_return true;
}

std::uint8_t Interrupts::take_rqs() { return std::exchange(state_->rqs_of_request, std::uint8_t{0}); }

void Interrupts::expect(std::uint8_t tag) { state_->answers.at(tag) = no_answer_yet; }

task<int> Interrupts::status(std::uint8_t tag) {
  const auto state = state_;
  while (state->answers.at(tag) == no_answer_yet) {
    if (state->ended) co_return 256;
    co_await state->changed.wait();
  }
  co_return state->answers.at(tag);
}

}  // namespace eyelevel::transport::usbtmc
