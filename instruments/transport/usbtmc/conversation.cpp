// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/conversation.hpp"

#include <fmt/format.h>

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/this_coro.hpp>

#include <array>
#include <utility>
#include <vector>

#include "core/base/deadline.hpp"
#include "core/base/gong.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::transport::usbtmc {
namespace asio = boost::asio;
namespace {

constexpr base::Duration control_limit = std::chrono::seconds(1);

task<Moved> control_once(std::shared_ptr<Pipe> pipe, Setup setup, std::span<char> into) {
  co_return co_await pipe->control(setup, into);
}

task<Moved> clear_halt_once(std::shared_ptr<Pipe> pipe, std::uint8_t endpoint) {
  co_return co_await pipe->clear_halt(endpoint);
}

}  // namespace

struct PacketRead::State {
  std::vector<char> buffer;
  bool under_way = false;
  std::optional<Moved> result;
  std::size_t bytes = 0;
  base::Gong ended;
  asio::cancellation_signal cancel;

  static task<Moved> run(std::shared_ptr<State> state, std::shared_ptr<Pipe> pipe) {
    co_return co_await pipe->bulk_in(state->buffer);
  }
};

PacketRead::PacketRead() : state_(std::make_shared<State>()) {}
PacketRead::~PacketRead() { forget(); }

task<> PacketRead::start(std::shared_ptr<Pipe> pipe) {
  const auto state = state_;
  if (state->under_way || state->result) co_return;
  const auto executor = co_await asio::this_coro::executor;
  state->buffer.resize(pipe->endpoints().bulk_in_packet_bytes);
  state->under_way = true;
  asio::co_spawn(
      executor, State::run(state, std::move(pipe)),
      asio::bind_cancellation_slot(state->cancel.slot(), [state](const std::exception_ptr& error, Moved moved) {
        state->under_way = false;
        if (!error) state->result = std::move(moved);  // else it was cancelled, and nobody asks
        state->ended.strike();
      }));
}

task<Moved> PacketRead::take(std::shared_ptr<Pipe> pipe) {
  const auto state = state_;
  for (;;) {
    co_await start(pipe);
    if (state->result) break;
    co_await state->ended.wait();
  }
  Moved moved = std::move(*state->result);
  state->result.reset();
  state->bytes = moved.bytes;
  co_return moved;
}

std::string_view PacketRead::bytes() const { return {state_->buffer.data(), state_->bytes}; }

task<> PacketRead::stop() {
  const auto state = state_;
  if (state->under_way) state->cancel.emit(asio::cancellation_type::terminal);
  while (state->under_way) co_await state->ended.wait();
  state->result.reset();
}

void PacketRead::forget() noexcept {
  const auto state = std::exchange(state_, std::make_shared<State>());
  state->cancel.emit(asio::cancellation_type::terminal);
}

std::string name_of(Trouble trouble) {
  switch (trouble) {
    case Trouble::none: return "no trouble";
    case Trouble::stall: return "halted (STALL)";
    case Trouble::gone: return "the instrument is gone";
    case Trouble::overflow: return "more bytes came than were asked for";
    case Trouble::other: return "the transfer failed";
  }
  return "trouble";
}

Moved Conversation::seen(Moved moved) {
  gone = gone || moved.trouble == Trouble::gone;
  return moved;
}

task<Conversation::Told> Conversation::ask(Request request, std::uint16_t value) {
  const auto& ends = pipe->endpoints();
  const bool out = request == Request::initiate_abort_bulk_out || request == Request::check_abort_bulk_out_status;
  const bool in = request == Request::initiate_abort_bulk_in || request == Request::check_abort_bulk_in_status;
  const auto setup = setup_of(request, value,
                              out  ? ends.bulk_out
                              : in ? ends.bulk_in
                                   : static_cast<std::uint16_t>(ends.interface));
  std::array<char, 64> into{};
  Told told;
  auto moved = co_await base::result_within(timeline, control_limit,
                                            control_once(pipe, setup, std::span(into).first(setup.length)));
  if (!moved) {
    told.silent = true;
    told.text = fmt::format("{}: no answer within {:.0f} s", name_of(request), base::to_seconds(control_limit));
    co_return told;
  }
  const Moved got = seen(std::move(*moved));
  told.trouble = got.trouble;
  if (told.trouble != Trouble::none) {
    told.text = fmt::format("{}: {}", name_of(request), name_of(told.trouble));
    co_return told;
  }
  told.bytes.assign(into.data(), got.bytes);
  told.answer = read_answer(request, told.bytes);
  told.text = fmt::format("{}: {}", name_of(request), told.answer ? name_of(told.answer->status) : "an empty answer");
  co_return told;
}

task<Moved> Conversation::clear_halt(std::uint8_t endpoint) {
  auto moved = co_await base::result_within(timeline, control_limit, clear_halt_once(pipe, endpoint));
  if (!moved) co_return Moved{.bytes = 0, .trouble = Trouble::other, .what = "no answer to CLEAR_FEATURE"};
  if (moved->trouble == Trouble::none && endpoint == pipe->endpoints().bulk_in) in_stalled = false;
  co_return seen(std::move(*moved));
}

void Conversation::fail_with(const Moved& moved, std::uint8_t endpoint, std::uint8_t tag, std::string_view doing) {
  base::ErrorRecord record;
  record.where = name;
  record.cause = moved.what;
  const std::string place = fmt::format("endpoint 0x{:02X}, bTag {}", endpoint, tag);
  switch (moved.trouble) {
    case Trouble::gone:
      record.code = base::ErrorCode::connection_lost;
      record.message = fmt::format("{}: the instrument was unplugged or switched off", doing);
      record.advice = "look at the USB cable and the instrument's power; it is opened again with the next message";
      break;
    case Trouble::stall:
      record.code = base::ErrorCode::bad_answer;
      record.message = fmt::format("{}: the instrument halted the transfer ({}) and does so again after CLEAR_FEATURE",
                                   doing, place);
      record.advice = "does the instrument know this message? ask SYST:ERR?";
      break;
    case Trouble::overflow:
      record.code = base::ErrorCode::bad_answer;
      record.message = fmt::format("{}: more bytes came than fit into a packet ({})", doing, place);
      record.advice = "try another USB port or cable";
      break;
    case Trouble::none:
    case Trouble::other:
      record.code = base::ErrorCode::connection_lost;
      record.message = fmt::format("{}: the transfer failed ({})", doing, place);
      record.advice = "try another USB cable, and a port of the computer itself instead of a hub's";
      break;
  }
  throw TransportError(std::move(record));
}

}  // namespace eyelevel::transport::usbtmc
