// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/request_listener.hpp"

#include <boost/asio/buffer.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/system/system_error.hpp>

#include <utility>

#include "core/base/gong.hpp"
#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/record_stream.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
using asio::ip::tcp;
namespace {

constexpr std::size_t most_instruments = 4;  // connections to one link's channel

}  // namespace

struct RequestListener::State {
  bool requested = false;
  bool stopped = false;
  base::Gong changed;

  static task<> serve(std::shared_ptr<State> self, tcp::socket socket) {
    RecordStream stream(std::move(socket), most_small_bytes);
    std::string record, reply;
    try {
      for (;;) {
        co_await stream.next_record();
        co_await stream.read_rest(record);
        const auto found = read_call(record);
        if (!found.is_call) continue;
        if (found.call.procedure == static_cast<std::uint32_t>(Procedure::device_intr_srq)) {
          self->requested = true;
          self->changed.strike();
        } else if (found.call.procedure == static_cast<std::uint32_t>(Procedure::null)) {
          begin_record(reply);
          append_reply(reply, found.call.xid);
          end_record(reply);
          co_await stream.write({asio::buffer(reply)});
        }
      }
    } catch (const boost::system::system_error&) {
      co_return;  // the instrument closed; it may connect again
    } catch (const WireFault&) {
      co_return;  // no records
    }
  }
};

RequestListener::RequestListener(const asio::any_io_executor& executor, const asio::ip::address& address)
    : state_(std::make_shared<State>()),
      listener_(executor,
                ListenOn{.address = address, .what = "the interrupt channel", .most_clients = most_instruments},
                [state = state_](tcp::socket socket) { return State::serve(state, std::move(socket)); }) {}

task<bool> RequestListener::wait() {
  const auto state = state_;
  while (!state->requested && !state->stopped) co_await state->changed.wait();
  co_return std::exchange(state->requested, false) && !state->stopped;
}

void RequestListener::stop() noexcept {
  listener_.stop();
  state_->stopped = true;
  state_->changed.strike();
}

}  // namespace eyelevel::transport::vxi11
